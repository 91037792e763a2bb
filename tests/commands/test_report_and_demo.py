"""`makeworth report` and `makeworth demo`, end to end, and their refusals."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest


def in_a_process_of_its_own(*words, cwd):
    """What the command says, run as a user runs it: sums come out the same to the last bit."""
    # -w of a command run in this process stays in its environment
    own = {name: said for name, said in os.environ.items() if name != "MAKEWORTH_WORKSPACE"}
    run = subprocess.run(
        [Path(sys.executable).with_name("makeworth"), *words, "--json"],
        cwd=cwd,
        env=own,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, f"{run.returncode}: {run.stderr}"
    return json.loads(run.stdout)


@pytest.fixture(scope="module")
def fen(tmp_path_factory):
    """The demo's folder, made once, and what it said."""
    top = tmp_path_factory.mktemp("demo")
    return top / "fen", in_a_process_of_its_own("demo", "fen", cwd=top)


def test_demo_takes_in_the_whole_sample(fen):
    from importlib.resources import files

    expected = json.loads((files("sample_prices") / "expected.json").read_text())
    counted = {each["file"].removeprefix("inbox/"): each["rows"] for each in expected["files"]}
    answer = fen[1]
    seen = {each["file"].rsplit("/", 1)[-1]: each for each in answer["imports"]}
    assert {name: each["rows"] for name, each in seen.items()} == counted
    for each in seen.values():
        assert each["added"] + each["known"] + each["set_aside_count"] == each["rows"]


def test_demo_makes_the_storm_lantern_as_the_sample_means_it(fen):
    craft = fen[1]["craft"]
    assert craft["verdict"] == "make"
    assert craft["route"] == "storm-lantern-etched"
    assert craft["make"]["shortfall_95"] > 2 * craft["buy"]["level"]


def test_report_writes_only_what_changed(fen):
    folder, _ = fen
    again = in_a_process_of_its_own("report", "--as-of", "2026-10-30", cwd=folder)
    assert again["written"] == []
    assert any(name.endswith("index.html") for name in again["unchanged"])


def chart_data(page):
    """The figures of a page, by chart."""
    script = page.split('id="chart-data">')[1].split("</script>")[0]
    return json.loads(script)


def test_item_page_has_the_level_as_it_was_and_the_season_before_behind_it(fen, makeworth):
    """Other road: the levels that `prices` gave on those very days."""
    folder, _ = fen
    page = (folder / "reports" / "item-lantern-frame.html").read_text()
    traces = {each.get("name"): each for each in chart_data(page)["price"]["data"]}

    def level_on(day):
        told = makeworth("prices", "lantern frame", "--as-of", day, "--json", cwd=folder).json
        return told["items"][0]["ask"]["level"]

    line = dict(zip(traces["ask level"]["x"], traces["ask level"]["y"], strict=True))
    for day in ("2026-09-25", "2026-10-12", "2026-10-30"):
        (drawn,) = [value for at, value in line.items() if at.startswith(day)]
        assert drawn == pytest.approx(level_on(day), rel=0.04)
    before = traces["spring fair"]
    assert before["x"] == sorted(before["x"])
    assert before["x"][0] >= "2026-09-01"
    # day 45 of the autumn fair stands for day 45 of the spring fair: 14 April
    (drawn,) = [
        value
        for at, value in zip(before["x"], before["y"], strict=True)
        if at.startswith("2026-10-15")
    ]
    assert drawn == pytest.approx(level_on("2026-04-14"), rel=0.06)


def test_what_is_new_is_the_difference_of_two_days(fen, makeworth):
    """Other road: the levels that `prices` gives on both days."""
    import re

    folder, _ = fen
    now, before = (
        {
            each["item"]: (each["ask"] or {}).get("level")
            for each in makeworth("prices", "--as-of", day, "--json", cwd=folder).json["items"]
        }
        for day in ("2026-10-30", "2026-10-29")
    )
    index = (folder / "reports" / "index.html").read_text()
    section = index.split('id="changes"')[1].split("</table>")[0]
    rows = re.findall(
        r'<th scope="row"><a[^>]*>([^<]+)</a></th><td>it costs (\d+) % (more|less)</td>', section
    )
    assert len(rows) >= 2
    for item, percent, word in rows:
        change = now[item] / before[item] - 1
        assert round(100 * abs(change)) == int(percent)
        assert word == ("more" if change > 0 else "less")
    moved = [item for item in now if now[item] and abs(now[item] / before[item] - 1) > 0.055]
    assert set(moved) <= {item for item, *_ in rows}


def test_report_elsewhere(workspace, makeworth, tmp_path):
    makeworth("quote", "lantern frame 2.4", cwd=workspace)
    run = makeworth("report", "--to", tmp_path / "pages", cwd=workspace)
    assert run.code == 0, run.err
    assert (tmp_path / "pages" / "index.html").stat().st_size > 1000


def test_demo_wants_a_new_folder(fen, makeworth, tmp_path):
    file = tmp_path / "file"
    file.write_text("x")
    for place in (fen[0], file):
        run = makeworth("demo", place, cwd=tmp_path)
        assert run.code == 1
        assert run.is_one_sentence()
        assert "name another" in run.err


@pytest.mark.parametrize(
    ("command", "words", "code", "said"),
    [
        ("demo", ("a", "b"), 2, "unexpected"),
        ("demo", ("--fast",), 2, "no such option"),
        ("demo", ("missing/folder/fen",), 1, "missing"),
        ("report", ("--as-of", "someday"), 1, "someday"),
        ("report", ("--to",), 2, "requires an argument"),
        ("report", ("--as-of", "1999-01-01"), 1, "no prices"),
        ("report", ("extra",), 2, "no such command"),
        ("report", ("guide",), 2, "missing argument"),
        ("report", ("guide", "storm"), 1, "storm-lantern"),
        ("report", ("guide", "storm-lantern"), 1, "price"),
        ("report", ("--as-of", "2026-10-30", "guide", "storm-lantern"), 2, "stands before"),
        ("report", ("-w", "nowhere"), 1, "nowhere"),
    ],
)
def test_wrong_input_is_one_sentence(workspace, makeworth, command, words, code, said):
    run = makeworth(command, *words, cwd=workspace)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_report_into_a_file_is_refused(workspace, makeworth):
    makeworth("quote", "lantern frame", "2.4", cwd=workspace)
    run = makeworth("report", "--to", "makeworth.toml", cwd=workspace)
    assert run.code == 1
    assert run.is_one_sentence(), run.err
