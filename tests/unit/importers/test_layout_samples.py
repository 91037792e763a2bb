"""Every declared layout reads the sample beside it as the answer beside it says."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import importers.layouts
from advisor.times import us_to_rfc3339
from importers.layout import CANONICAL, declared_layouts

FOLDER = Path(importers.layouts.__file__).parent
LAYOUTS = {path.stem: path for path in sorted(FOLDER.glob("*.csv"))}


def test_every_layout_has_a_sample_and_the_canonical_one_comes_first():
    modules = {path.stem for path in FOLDER.glob("*.py")} - {"__init__"}
    assert modules == set(LAYOUTS) == {path.stem for path in FOLDER.glob("*.json")}
    names = [layout.name for layout in declared_layouts()]
    assert names[0] == CANONICAL
    assert len(set(names)) == len(names) == len(modules)


@pytest.mark.parametrize("name", LAYOUTS)
def test_sample_is_read_as_expected(name, read):
    expected = json.loads((FOLDER / f"{name}.json").read_text(encoding="utf-8"))
    result = read(LAYOUTS[name], known=["lantern frame", "binding wax", "shell", "crown"])
    assert result.reading.layout == name.replace("_", " ")
    rows = [
        {
            "line": row["line"],
            "at": us_to_rfc3339(row["at_us"]),
            **{key: row[key] for key in expected["rows"][0] if key not in ("line", "at")},
        }
        for row in result.rows
    ]
    assert rows == expected["rows"]
    assert result.faults == [
        (row["line"], row["column"], row["reason"]) for row in expected["set_aside"]
    ]
