"""`makeworth pool`, as its user runs it."""

from __future__ import annotations

import math

import pytest

POOL = """[pool]
slots = { etched = 1, inlaid = 1 }
[pool.count]
all = { 1 = 1, 2 = 1 }
[[base]]
item = "lantern frame"
traits = ["brass"]
[[base]]
item = "river frame"
[[affix]]
name = "steady flame"
kind = "etched"
group = "flame"
weight = 1
item_level = 40
needs = ["brass"]
[[affix]]
name = "dim flame"
kind = "etched"
group = "flame"
tier = 2
weight = 3
[[affix]]
name = "chime"
kind = "inlaid"
weight = 4
[[affix]]
name = "bright lens"
kind = "inlaid"
weight = 0
[[affix]]
name = "tide song"
kind = "inlaid"
weight = 5
set = "hidden"
"""
ROUTE = """[route]
makes = "storm lantern"
pool = "lantern"
base = "lantern frame"
item_level = 20
[finish]
all = ["flame:2", "chime"]
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
[[step]]
name = "wash and draw"
when = {}
uses = { "river dye" = 1 }
effect = { redraw = "all" }
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "makeworth.toml").write_text('money = "shell"\n')
    for name, text in {"pools/lantern.toml": POOL, "routes/evening.toml": ROUTE}.items():
        path = tmp_path / name
        path.parent.mkdir()
        path.write_text(text)
    return tmp_path


def test_json_holds_the_contract(makeworth, folder):
    run = makeworth("pool", "lantern", "--want", "flame:2, chime", "--json", cwd=folder)
    assert run.code == 0
    assert {"pool", "item_level", "draws", "affixes", "want"} <= set(run.json)
    assert run.json["pool"] == "lantern"
    assert run.json["item_level"] == 40
    assert run.json["draws"] == {"1": 0.5, "2": 0.5}
    keys = {
        *("name", "kind", "group", "tier"),
        *("chance_first_draw", "chance_on_piece", "from_item_level"),
    }
    assert all(keys == set(each) for each in run.json["affixes"])
    by_name = {each["name"]: each for each in run.json["affixes"]}
    assert by_name["steady flame"]["chance_first_draw"] == pytest.approx(1 / 8)
    # one drawn: 1/2; a second one comes from the other kind: always both groups
    assert by_name["chime"]["chance_on_piece"] == pytest.approx(0.5 * 0.5 + 0.5)
    assert by_name["dim flame"]["chance_on_piece"] == pytest.approx(0.75 * 0.75)
    assert by_name["bright lens"]["chance_on_piece"] == 0
    assert by_name["tide song"]["chance_first_draw"] == 0
    assert run.json["want"]["chance"] == pytest.approx(0.5)
    assert run.json["want"]["least_item_level"] == 0
    assert run.json["want"]["best_tiers_from"] == 40
    assert [each["base"] for each in run.json["bases"]] == ["lantern frame", "river frame"]
    (route,) = run.json["routes"]
    assert (route["route"], route["item_level"]) == ("evening", 20)
    assert route["want"]["chance"] == pytest.approx(0.5)


def test_without_a_want_it_is_what_the_only_route_wants(makeworth, folder):
    run = makeworth("pool", "lantern", "--json", cwd=folder)
    assert run.json["want"]["chance"] == pytest.approx(0.5)
    assert run.json["want"]["least_item_level"] == 0


def test_without_a_want_routes_that_want_several_things_leave_it_null(makeworth, folder):
    other = (folder / "routes" / "evening.toml").read_text().replace("flame:2", "flame:1")
    assert "flame:1" in other
    (folder / "routes" / "other.toml").write_text(other)
    run = makeworth("pool", "lantern", "--json", cwd=folder)
    assert run.json["want"] is None
    assert any("several things" in each for each in run.json["cautions"])


def test_without_a_want_or_a_route_it_is_null(makeworth, folder):
    (folder / "routes" / "evening.toml").unlink()
    run = makeworth("pool", "lantern", "--json", "--base", "River  Frame", cwd=folder)
    assert run.json["want"] is None
    assert any("no want" in each for each in run.json["cautions"])
    assert run.json["base"] == "river frame"
    by_name = {each["name"]: each for each in run.json["affixes"]}
    assert by_name["steady flame"]["chance_first_draw"] == 0
    assert math.isclose(sum(each["chance_first_draw"] for each in by_name.values()), 1)


def test_a_screen_of_it_fits_and_tells_what_matters(makeworth, folder):
    run = makeworth("pool", "lantern", "--item-level", "20", "--want", "flame:2, chime", cwd=folder)
    assert run.code == 0
    assert max(map(len, run.out.splitlines())) <= 80
    assert "only placed: bright lens" in run.out
    assert "only by a step that names the set hidden: tide song" in run.out
    assert "evening" in run.out


def test_exclusions_are_told(makeworth, folder):
    run = makeworth("pool", "lantern", "--want", "steady flame, dim flame", cwd=folder)
    assert run.code == 0
    assert "exclude each other" in run.out


def test_no_count_gives_null_and_a_caution(makeworth, folder):
    path = folder / "pools/lantern.toml"
    path.write_text(POOL.replace("[pool.count]\nall = { 1 = 1, 2 = 1 }\n", ""))
    run = makeworth("pool", "lantern", "--want", "chime", "--json", cwd=folder)
    assert run.json["affixes"][0]["chance_on_piece"] is None
    assert run.json["want"]["chance"] is None
    assert "how many a redraw of all gives" in run.json["cautions"][0]
    assert makeworth("pool", "lantern", "--want", "chime", cwd=folder).code == 0


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["lanten"], 'did you mean "lantern"'),
        (["lantern", "--base", "river fram"], 'did you mean "river frame"'),
        (["lantern", "--want", "chim"], 'did you mean "chime"'),
        (["lantern", "--want", " , "], "names nothing"),
        (["lantern", "--item-level", "-3"], "0 or more"),
    ],
)
def test_a_fault_is_one_sentence(makeworth, folder, words, told):
    run = makeworth("pool", *words, cwd=folder)
    assert run.code == 1
    assert run.is_one_sentence()
    assert told in run.err


def test_a_route_at_fault_is_told_and_left_out(makeworth, folder):
    (folder / "routes/other.toml").write_text("[route]\n")
    run = makeworth("pool", "lantern", "--json", cwd=folder)
    assert run.code == 0
    assert "a route is left out" in run.json["cautions"][0]
