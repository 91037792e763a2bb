"""`makeworth start`: a workspace whole, or not at all."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing

import pytest

from advisor.book.settings_file import read_settings
from advisor.routes.read import read_route
from advisor.tasks.starting import local_timezone


def entries(folder):
    return sorted(str(each.relative_to(folder)) for each in folder.rglob("*"))


def test_a_workspace_is_made_and_says_what_to_do_next(makeworth, tmp_path):
    done = makeworth("start", "fen", "--timezone", "Europe/Lisbon", cwd=tmp_path)
    assert (done.code, done.err) == (0, "")
    assert "cd fen" in done.out
    assert "Europe/Lisbon" in done.out
    assert entries(tmp_path) == [
        "fen",
        "fen/book.db",
        "fen/inbox",
        "fen/makeworth.toml",
        "fen/pools",
        "fen/reports",
        "fen/routes",
        "fen/routes/storm-lantern.toml",
    ]
    settings = read_settings(tmp_path / "fen" / "makeworth.toml")
    assert (settings.money, settings.timezone.key) == ("shell", "Europe/Lisbon")
    with closing(sqlite3.connect(tmp_path / "fen" / "book.db")) as book:
        assert book.execute("SELECT count(*) FROM quotes").fetchone() == (0,)


def test_the_worked_route_is_a_route(workspace):
    route = read_route(workspace / "routes" / "storm-lantern.toml")
    assert route.makes == "storm lantern"


def test_the_settings_explain_every_key(workspace):
    """Taking the # from the examples gives settings that are still understood."""
    file = workspace / "makeworth.toml"
    lines = file.read_text().splitlines()
    examples = [
        line.removeprefix("# ")
        for line in lines
        if line.startswith(("# [[", "# name =", "# start =", "# end =", "# lots_of", "# sells_"))
        or line.startswith(("# item =", "# below =", "# send =", "# piece =", "# verdict ="))
        or line.startswith(("# [watch]", "# every_", "# quiet_", "# most_", "# send_env ="))
        or line.startswith(("# above =", "# moved =", "# within_", "# bargain =", "# stale_"))
        or line.startswith(("# route =", "# pieces =", "# short ="))
    ]
    assert len(examples) == 37
    plain = [line for line in lines if not line.startswith("#")]
    at = plain.index('[item."binding wax"]')
    lots = [line for line in examples if line.startswith(("lots_of", "sells_"))]
    rest = [line for line in examples if line not in lots]
    file.write_text("\n".join([*plain[:at], *lots, *plain[at:], *rest]))
    settings = read_settings(file)
    assert settings.items["lantern frame"].lots_of == 10
    assert settings.seasons[0].name == "autumn fair"
    assert [alert.piece for alert in settings.alerts] == [*[None] * 5, "storm lantern", None]
    assert settings.watch.send_env == "MAKEWORTH_ALERTS"
    assert settings.alerts[-1].pieces == 2


def test_a_money_of_ones_own_is_written_safely(makeworth, tmp_path):
    name = 'pearl "deep" \\ #1'
    done = makeworth("start", "fen", "--money", name, cwd=tmp_path)
    assert done.code == 0
    assert read_settings(tmp_path / "fen" / "makeworth.toml").money == name


def test_an_empty_folder_may_become_a_workspace(makeworth, tmp_path):
    (tmp_path / "fen").mkdir()
    done = makeworth("start", ".", cwd=tmp_path / "fen")
    assert done.code == 0
    assert (tmp_path / "fen" / "makeworth.toml").exists()
    assert entries(tmp_path)[0] == "fen"


def taken_workspace(folder):
    folder.mkdir()
    (folder / "makeworth.toml").write_text('money = "shell"')


def other_files(folder):
    folder.mkdir()
    (folder / "notes.txt").write_text("mine")


def a_file(folder):
    folder.write_text("mine")


def a_dangling_link(folder):
    folder.symlink_to(folder.parent / "nowhere")


@pytest.mark.parametrize(
    ("before", "words"),
    [
        (taken_workspace, "there is a workspace already"),
        (other_files, "other files in it"),
        (a_file, "a file of that name"),
        (a_dangling_link, "a file of that name"),
    ],
)
def test_a_place_that_is_taken_is_left_as_it_is(makeworth, tmp_path, before, words):
    before(tmp_path / "fen")
    was = entries(tmp_path)
    done = makeworth("start", "fen", cwd=tmp_path)
    assert done.code == 1
    assert done.is_one_sentence()
    assert words in done.err
    assert entries(tmp_path) == was


@pytest.mark.parametrize(
    ("arguments", "code", "words"),
    [
        ((), 2, "missing argument"),
        (("gone/fen",), 1, "is missing; make"),
        (("fen", "--timezone", "Europe/Lisbn"), 1, 'did you mean "Europe/Lisbon"?'),
        (("fen", "--timezone", "../../../etc/passwd"), 1, "no timezone"),
        (("fen", "--timezone", ""), 1, "no timezone"),
        (("fen", "--money", "  "), 1, "no name for a money"),
        (("fen", "--money", "a\x1b[2Jb"), 1, "no name for a money"),
        (("fen", "--money", "x" * 101), 1, "no name for a money"),
        (("fen", "--mony", "shell"), 2, "--mony"),
        (("fen", "den"), 2, "den"),
        (("x" * 300,), 1, "name too long"),
    ],
)
def test_wrong_use_makes_nothing(makeworth, tmp_path, arguments, code, words):
    done = makeworth("start", *arguments, cwd=tmp_path)
    assert done.code == code
    assert done.is_one_sentence()
    assert words in done.err
    assert "\x1b" not in done.err
    assert entries(tmp_path) == []


def test_the_timezone_is_this_computers_where_it_tells(monkeypatch):
    monkeypatch.setenv("TZ", "Europe/Lisbon")
    assert local_timezone() == "Europe/Lisbon"
    monkeypatch.setenv("TZ", ":Asia/Tokyo")
    assert local_timezone() == "Asia/Tokyo"
    monkeypatch.setenv("TZ", "no such place")
    assert local_timezone()
    assert os.environ["TZ"] == "no such place"
