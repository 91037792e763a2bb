"""What failed, how often in a row, and until when it is left alone."""

from __future__ import annotations

from dataclasses import dataclass, field

from advisor.decide.alerts.posting import growing_pause

FIRST_SECONDS = 30.0
LONGEST_SECONDS = 900.0


@dataclass
class Pauses:
    """Failures in a row by name; each time the pause is twice as long."""

    _failed: dict[str, tuple[int, float]] = field(default_factory=dict)

    def may_try(self, name: str, steady: float) -> bool:
        """Whether its pause is over, or it has none."""
        return steady >= self._failed.get(name, (0, steady))[1]

    def note_failure(self, name: str, steady: float) -> float:
        """It failed once more: seconds until it may be tried again."""
        failures = self.failures(name) + 1
        pause = growing_pause(failures, first=FIRST_SECONDS, longest=LONGEST_SECONDS)
        self._failed[name] = (failures, steady + pause)
        return pause

    def note_success(self, name: str) -> None:
        """It went well."""
        self._failed.pop(name, None)

    def keep(self, names: set[str]) -> None:
        """Forget all but these."""
        self._failed = {name: each for name, each in self._failed.items() if name in names}

    def failures(self, name: str) -> int:
        """How often it failed in a row."""
        return self._failed.get(name, (0, 0.0))[0]

    def left(self, name: str, steady: float) -> float:
        """Seconds of its pause that are left."""
        return max(0.0, self._failed.get(name, (0, 0.0))[1] - steady)
