"""Settings garbled in any way are understood or refused in a sentence, never a traceback."""

from __future__ import annotations

import tempfile
from pathlib import Path

from hypothesis import example, given, settings
from hypothesis import strategies as st

from advisor.book.settings_file import read_settings
from advisor.errors import BadInput

WHOLE = """\
money = "shell"
timezone = "Europe/Lisbon"
[trade]
sale_fee = "5 %"
caution = 0.25
[[season]]
name = "autumn fair"
start = 2026-09-01
end = 2026-12-20
[item."lantern frame"]
also = ["frame"]
sells_per_day = 1.5
[[alert]]
item = "lantern frame"
below = 2.5
"""

GARBLED = st.lists(
    st.tuples(
        st.integers(0, len(WHOLE)),
        st.integers(0, 12),
        st.text('="[].#\n0123456789-%eE _ab', max_size=6),
    ),
    min_size=1,
    max_size=4,
)


def outcome(text: str) -> BadInput | None:
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "makeworth.toml"
        file.write_text(text, encoding="utf-8")
        try:
            read_settings(file)
        except BadInput as fault:
            return fault
    return None


@settings(max_examples=300, deadline=None)
@given(GARBLED)
def test_garbled_settings_are_understood_or_refused(changes):
    text = WHOLE
    for at, gone, put in changes:
        text = text[:at] + put + text[at + gone :]
    fault = outcome(text)
    if fault is not None:
        assert "\n" not in str(fault)
        assert fault.line is None or 1 <= fault.line <= text.count("\n") + 1


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5) | st.dates(),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner, max_size=3)
    ),
    max_leaves=6,
)
KEYS = st.sampled_from(
    ["money", "timezone", "date_order", "trade", "season", "item", "alert", "sale_fee", "name",
     "start", "end", "also", "family", "usual_qty", "below", "send", "piece", "verdict"]
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(st.dictionaries(KEYS, VALUES, max_size=4))
@example({"season": [{"name": "x", "start": 9999, "end": []}]})
def test_values_of_any_kind_are_understood_or_refused(content):
    import tomlkit

    def plain(value):
        if isinstance(value, dict):
            return {key: plain(each) for key, each in value.items() if each is not None}
        if isinstance(value, list):
            return [plain(each) for each in value if each is not None]
        return value

    fault = outcome(tomlkit.dumps({"money": "shell"} | plain(content)))
    assert fault is None or "\n" not in str(fault)
