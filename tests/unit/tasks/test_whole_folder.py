"""A folder that is there whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.errors import BadInput
from advisor.tasks.whole_folder import whole_folder


def test_nothing_is_there_until_all_of_it_is(tmp_path):
    target = tmp_path / "out"
    with whole_folder(target, last="list") as aside:
        (aside / "part").write_text("1")
        assert not target.exists()
        (aside / "list").write_text("part")
    assert sorted(each.name for each in target.iterdir()) == ["list", "part"]
    assert [each.name for each in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize("exists", [True, False])
def test_an_error_inside_leaves_nothing(tmp_path, exists):
    target = tmp_path / "out"
    if exists:
        target.mkdir()
    with pytest.raises(KeyError), whole_folder(target, last="list") as aside:
        (aside / "part").write_text("1")
        raise KeyError
    assert list(tmp_path.rglob("*")) == ([target] if exists else [])


@pytest.mark.parametrize("failing", ["list", "middle"])
def test_a_move_that_fails_half_way_is_undone(tmp_path, monkeypatch, failing):
    rename = Path.rename

    def fails(self, target):
        if self.name == failing and self.parent != tmp_path / "out":
            raise OSError(28, "No space left on device")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", fails)
    (tmp_path / "out").mkdir()
    with (
        pytest.raises(BadInput, match="no space left"),
        whole_folder(tmp_path / "out", last="list") as aside,
    ):
        for name in ("apart", "middle", "list"):
            (aside / name).write_text(name)
    assert list((tmp_path / "out").iterdir()) == []
