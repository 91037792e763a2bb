"""Routes with a pool as stages: names, shared stages, market, grades, rungs, learned odds."""

from __future__ import annotations

from math import comb

import numpy as np
import pytest

from advisor.errors import CannotAnswer
from advisor.routes.build import build_stages
from advisor.routes.cost import route_cost
from advisor.routes.read import read_route
from advisor.routes.stages import BUY_IN, END, SELL_OUT, STOP

POOL = """[pool]
slots = { etched = 1, inlaid = 2 }
placed_at_most = 1
[pool.count]
all = { 1 = 1 }
inlaid = { 1 = 1 }
[pool.survivors]
1 = { 1 = 1 }
2 = { 1 = 1 }
3 = { 1 = 1 }
[[base]]
item = "lantern frame"
[[affix]]
name = "flame"
kind = "etched"
weight = 1
[[affix]]
name = "ward"
kind = "etched"
weight = 2
[[affix]]
name = "clear chime"
kind = "inlaid"
group = "chime"
weight = 1
[[affix]]
name = "dull chime"
kind = "inlaid"
group = "chime"
tier = 2
weight = 3
[[affix]]
name = "crest"
kind = "inlaid"
weight = 1
"""
HEAD = """[route]
makes = "storm lantern"
pool = "lantern"
base = "lantern frame"
"""
TAKE = """
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
"""
DRAW = """
[[step]]
name = "wash and draw"
when = {}
uses = { "river dye" = 1 }
effect = { redraw = "all" }
"""
BUY = {"lantern frame": 10.0, "river dye": 2.0, "salt": 1.0}


def write_route(folder, text, pool=POOL):
    for name, content in {"pools/lantern.toml": pool, "routes/evening.toml": text}.items():
        path = folder / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(content)
    return read_route(folder / "routes/evening.toml")


def cost(route, *, buy=BUY, sell=(), goal="keep", **more):
    return route_cost(
        route.name, routes={route.name: route}, buy=buy, sell=dict(sell), money="shell",
        goal=goal, **more,
    )  # fmt: skip


def actions_at(model, stage, kind):
    """Where the actions of one kind at a stage lead."""
    number = list(model.stages).index(stage)
    actions = np.flatnonzero((model.action_stage == number) & (model.action_kind == kind))
    targets = model.outcome_stage[np.isin(model.outcome_action, actions)]
    return [END if each == END else model.stages[each] for each in targets]


def test_redrawing_until_it_comes_takes_one_over_the_chance(tmp_path):
    # geometric: 1 of a weight of 8 in all, so 8 dyes on average
    route = write_route(tmp_path, HEAD + '[finish]\nall = ["clear chime"]' + TAKE + DRAW)
    found = cost(route)
    assert found.mean == pytest.approx(10 + 8 * 2)
    assert found.use["river dye"].mean == pytest.approx(8)
    assert found.law.chance_within(10 + 2) == pytest.approx(1 / 8)


def test_a_placed_affix_blocks_its_kind_and_makes_the_rest_likelier(tmp_path):
    # with the one etched slot taken, draws come from the inlaid 5: chance 1/5, not 1/8
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE
    text += '[[step]]\nname = "block"\nwhen = { none = ["flame", "ward"] }\n'
    text += 'uses = { salt = 1 }\neffect = { place = "flame" }\n'
    text += '[[step]]\nname = "add"\nwhen = { all = ["flame"], none = ["dull chime", "crest"] }\n'
    text += 'uses = { "river dye" = 1 }\neffect = { add = 1 }\n'
    text += '[[step]]\nname = "scrap"\nwhen = {}\nto = "empty table"\n'
    found = cost(write_route(tmp_path, text))
    assert found.mean == pytest.approx((10 + 1 + 2) * 5)


def test_pieces_have_names_in_plain_words_and_share_one_redraw(tmp_path):
    text = HEAD + '[finish]\nall = ["chime:1"]' + TAKE + DRAW
    model = build_stages(write_route(tmp_path, text), goal="keep", money="shell")
    assert set(model.stages) == {
        "empty table",
        "storm lantern",
        "nothing on it",
        "wash and draw: what comes",
        "1 other etched",
        "other chime",
        "1 other inlaid",
    }
    place = list(model.stages).index("wash and draw: what comes")
    own = model.outcome_action == np.flatnonzero(model.action_stage == place)[0]
    names = [model.stages[each] for each in model.outcome_stage[own]]
    found = dict(zip(names, model.odds[own], strict=True))
    assert found == {
        "1 other etched": pytest.approx(3 / 8),
        "other chime": pytest.approx(3 / 8),
        "1 other inlaid": pytest.approx(1 / 8),
        "storm lantern": pytest.approx(1 / 8),
    }


def test_a_plain_stage_may_be_the_end(tmp_path):
    text = HEAD + TAKE + DRAW
    text += '[[step]]\nname = "seal"\nwhen = { all = ["flame"] }\nuses = { salt = 4 }\n'
    text += '[step.outcomes]\n"storm lantern" = "1/2"\n"piece" = "rest"\n'
    # 8 dyes until the flame (1 of 8), then twice 4 salt, the piece staying as it is
    assert cost(write_route(tmp_path, text)).mean == pytest.approx(10 + 16 + 8)


def test_uses_of_one_outcome_are_paid_only_if_it_comes_to_it(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE
    text += '[[step]]\nname = "try"\nwhen = {}\n[step.outcomes]\n'
    text += '"piece" = { odds = "1/4", uses = { salt = 1 }, effect = { redraw = "all" } }\n'
    text += '"empty table" = { odds = "rest", gives = { "scrap glass" = 1 } }\n'
    route = write_route(tmp_path, text)
    # a round: frame 10, 3 of 4 times scrap worth 2; on a piece that missed one tries on
    # v = 10 + w; w = 1/4 (1 + 7/8 w) + 3/4 (-2 + v)
    found = cost(route, sell={"scrap glass": 2.0})
    w = (1 / 4 + 3 / 4 * (-2 + 10)) / (1 - 7 / 32 - 3 / 4)
    assert found.mean == pytest.approx(10 + w)


def test_two_outcomes_may_each_have_an_effect(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime", "crest"]' + TAKE
    text += '[[step]]\nname = "try"\nwhen = {}\nuses = { salt = 1 }\n[step.outcomes]\n'
    text += '"piece" = { odds = "1/2", effect = { redraw = "inlaid", count = { 2 = 1 } } }\n'
    text += '"dulled" = { odds = "1/2", effect = { redraw = "inlaid" } }\n'
    # both in two draws: 1/5 * 1/4 + 1/5 * 1/1... first crest (1/5) then chime 1 of 4; first
    # clear chime (1/5) then crest alone is left (1)
    chance = (1 / 5 * 1 / 4 + 1 / 5) / 2
    assert cost(write_route(tmp_path, text)).mean == pytest.approx(10 + 1 / chance)


def test_market_is_open_at_pieces_but_not_while_chance_speaks(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE + DRAW
    text += '[[step]]\nname = "mend"\nfrom = "half lantern"\nto = "storm lantern"\n'
    text += '[market]\n"half lantern" = "half lantern"\n'
    route = write_route(tmp_path, text)
    model = build_stages(route, goal="keep", money="shell")
    assert actions_at(model, "nothing on it", BUY_IN) == ["half lantern"]
    assert actions_at(model, "wash and draw: what comes", BUY_IN) == []
    assert actions_at(model, "half lantern", BUY_IN) == []
    assert actions_at(model, "half lantern", SELL_OUT) == ["empty table"]
    assert cost(route, buy={**BUY, "half lantern": 7.0}).mean == pytest.approx(7.0)
    no_price = build_stages(route, goal="keep", money="shell", buyable=[], sellable=[])
    assert actions_at(no_price, "nothing on it", BUY_IN) == []
    assert actions_at(no_price, "half lantern", SELL_OUT) == []
    for_sale = build_stages(route, goal="sale", money="shell")
    assert actions_at(for_sale, "half lantern", SELL_OUT) == [END]
    assert actions_at(for_sale, "nothing on it", STOP) == [END]
    assert actions_at(for_sale, "wash and draw: what comes", STOP) == []


GRADES = """
[[grade]]
item = "plain lantern"
all = ["chime:2"]
[[grade]]
item = "flame lantern"
all = ["flame"]
"""


def test_the_dearest_grade_met_is_sold(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE + DRAW + GRADES
    route = write_route(tmp_path, text)
    model = build_stages(route, goal="sale", money="shell")
    assert actions_at(model, "other chime" if "other chime" in model.stages else "chime 2",
                      SELL_OUT) == [END]  # fmt: skip
    assert actions_at(model, "storm lantern, also plain lantern", SELL_OUT) == [END, END]
    prices = {"storm lantern": 40.0, "plain lantern": 5.0, "flame lantern": 50.0}
    # sells what comes: clear chime 1/8 at 40, dull 3/8 at 5, flame 1/8 at 50; else draws again.
    # Stopping at a dull chime is worth 5; drawing again is worth g = v - 2. Best: draw on
    v = (1 / 8 * 40 + 1 / 8 * 50 - 2) / (2 / 8)
    assert v > 5
    assert -cost(route, sell=prices, goal="sale").mean == pytest.approx(v - 10)
    # a plain lantern worth 45 is sold also where the storm lantern is finished (40)
    prices["plain lantern"] = 45.0
    w = (4 / 8 * 45 + 1 / 8 * 50 - 2) / (5 / 8)
    assert -cost(route, sell=prices, goal="sale").mean == pytest.approx(w - 10)


def test_a_grade_is_worth_stopping_at_when_going_on_costs_more(tmp_path):
    route = write_route(tmp_path, HEAD + '[finish]\nall = ["clear chime"]' + TAKE + DRAW + GRADES)
    cheap = {"storm lantern": 30.0, "plain lantern": 22.0, "flame lantern": 0.0}
    found = cost(route, sell=cheap, goal="sale")
    assert found.choices["chime 2"].action == "sell out"
    dear = {**cheap, "storm lantern": 90.0}
    found = cost(route, sell=dear, goal="sale")
    assert found.choices["chime 2"].step == "wash and draw"


def test_rungs_beside_pieces(tmp_path):
    text = HEAD + 'start = "empty table"\n' + TAKE + DRAW
    text += '[[step]]\nname = "mount"\nwhen = { all = ["clear chime"] }\nto = "edge 0"\n'
    text += '[[step]]\nname = "harden {n}"\nvary = { n = "0..2" }\nfrom = "edge {n}"\n'
    text += 'uses = { salt = { by = "n", values = [1, 2, 3] } }\n[step.outcomes]\n'
    text += '"edge {n+1}" = { by = "n", values = ["1/2", "1/2", "1"] }\n'
    text += '"edge {n}" = "rest"\n'
    text += '[[step]]\nname = "sell on"\nfrom = "edge 3"\nto = "storm lantern"\n'
    found = cost(write_route(tmp_path, text))
    assert found.mean == pytest.approx(10 + 16 + 2 * 1 + 2 * 2 + 3)


def test_rungs_of_a_step_on_pieces(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE
    text += '[[step]]\nname = "wash {n}"\nvary = { n = "1..2" }\nwhen = {}\n'
    text += 'uses = { salt = { by = "n", values = [3, 1] } }\n[step.outcomes]\n'
    text += '"piece" = { odds = { by = "n", values = [1, "1/2"] }, effect = { redraw = "all" } }\n'
    text += '"empty table" = "rest"\n'
    found = cost(write_route(tmp_path, text))
    assert found.choices["nothing on it"].step == "wash 1"
    assert found.mean == pytest.approx(10 + 8 * 3)


def test_a_new_piece_may_replace_the_one_on_the_table(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE
    text += '[[step]]\nname = "add"\nwhen = { none = ["flame", "ward", "dull chime", "crest"] }\n'
    text += "uses = { salt = 1 }\neffect = { add = 1 }\n"
    text += '[[step]]\nname = "take another"\nwhen = {}\nuses = { "lantern frame" = 1 }\nput = []\n'
    assert cost(write_route(tmp_path, text)).mean == pytest.approx(8 * (10 + 1))


def test_which_others_are_on_a_piece_matters_for_the_next_draw(tmp_path):
    pool = "[pool]\nslots = { inlaid = 2 }\n" + '[[base]]\nitem = "lantern frame"\n' + "".join(
        f'[[affix]]\nname = "{name}"\nkind = "inlaid"\nweight = {weight}\n'
        for name, weight in {"chime": 1, "crest": 2, "handle": 7}.items()
    )  # fmt: skip
    text = HEAD + '[finish]\nall = ["chime"]' + TAKE
    text += '[[step]]\nname = "add"\nwhen = { free = { inlaid = 1 } }\n'
    text += "uses = { salt = 1 }\neffect = { add = 1 }\n"
    text += '[[step]]\nname = "scrap"\nwhen = {}\nto = "empty table"\n'
    route = write_route(tmp_path, text, pool)
    # chime first 1/10; behind the crest (2/10) 1 of 8; behind the handle (7/10) 1 of 3;
    # a salt more is always worth it, and a full piece without it is thrown away
    model = build_stages(route, goal="keep", money="shell")
    assert {"crest", "handle", "2 other inlaid"} <= set(model.stages)
    chance = 1 / 10 + 2 / 10 / 8 + 7 / 10 / 3
    assert cost(route).mean == pytest.approx((10 + 1 + 9 / 10) / chance)


def test_a_second_frame_that_stays_is_a_wrong_base(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE
    text += '[[step]]\nname = "fuse"\nwhen = {}\nuses = { salt = 1 }\n'
    text += 'effect = { join = ["clear chime"], frame = "either", other = "wrong frame" }\n'
    text += '[[step]]\nname = "throw away"\nfrom = "wrong frame"\nto = "empty table"\n'
    assert cost(write_route(tmp_path, text)).mean == pytest.approx(2 * (10 + 1))
    with_second = text.replace('frame = "either", other = "wrong frame"', 'frame = "second"')
    with_second = with_second.split('[[step]]\nname = "throw')[0]
    assert cost(write_route(tmp_path, with_second)).mean == pytest.approx(11)


def test_odds_known_from_tries_stay_with_the_outcome(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE
    text += '[[step]]\nname = "try"\nwhen = {}\nuses = { salt = 1 }\n[step.outcomes]\n'
    text += '"piece" = { odds = "1/2", seen = [40, 80], effect = { redraw = "all" } }\n'
    text += '"empty table" = "rest"\n'
    route = write_route(tmp_path, text)
    model = build_stages(route, goal="keep", money="shell")
    own = model.outcome_written == 1  # the first outcome of the second step
    assert own.any()
    assert set(np.round(model.odds[own], 12)) == {0.5}
    found = cost(route)
    assert found.odds_sd > 0
    # v = 10 + w, w = 1 + p (7/8) w + (1 - p) (10 + w): w (p / 8) = 1 + 10 (1 - p), p about 1/2
    at_half = 10 + (1 + 10 / 2) / (1 / 16)
    assert at_half < found.mean < 1.2 * at_half


def test_minutes_are_those_of_step_and_outcome(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE
    text += '[[step]]\nname = "try"\nwhen = {}\nuses = { salt = 1 }\nminutes = 2\n[step.outcomes]\n'
    text += '"piece" = { odds = 1, minutes = 3, effect = { redraw = "all" } }\n'
    assert cost(write_route(tmp_path, text)).minutes.mean == pytest.approx(8 * 5)


def test_names_of_stages_can_be_asked_in_any_way(tmp_path):
    text = HEAD + '[finish]\nall = ["clear chime"]' + TAKE + DRAW
    stages = build_stages(write_route(tmp_path, text), goal="keep", money="shell").stages
    names = list(stages)
    assert [stages[each] for each in range(len(stages))] == names
    assert stages[-1] == names[-1]
    assert stages[1:3] == names[1:3]
    with pytest.raises(IndexError):
        stages[len(stages)]


def test_more_than_five_million_stages_are_refused_with_the_count(tmp_path):
    pool = "[pool]\nslots = { etched = 5, inlaid = 5 }\n[pool.count]\nall = { 9 = 1 }\n"
    pool += '[[base]]\nitem = "lantern frame"\n' + "".join(
        f'[[affix]]\nname = "a{n}"\nkind = "{("etched", "inlaid")[n % 2]}"\nweight = {n + 1}\n'
        for n in range(30)
    )
    text = HEAD + '[finish]\nall = ["a1"]' + TAKE + DRAW
    text += '[[step]]\nname = "rub out"\nwhen = {}\nuses = { salt = 1 }\neffect = { remove = 1 }\n'
    text += '[[step]]\nname = "add"\nwhen = {}\nuses = { salt = 1 }\neffect = { add = 1 }\n'
    count = 2 * comb(15, 5) * comb(15, 4)  # five of one kind and four of the other
    with pytest.raises(CannotAnswer, match=f"{count:,} different pieces; at most 5,000,000"):
        build_stages(write_route(tmp_path, text, pool), goal="keep", money="shell")
