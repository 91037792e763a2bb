"""The picture of a route: layers, order, places, and what is folded away."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import isotonic_regression

from reports.layering import crossings, layer_stages, links
from reports.pages_data import PictureEdge, PictureStage, RouteDrawing
from reports.picture_boxes import GAP, spread_out
from reports.route_fold import fold_route
from reports.route_picture import draw_route

NAMES = tuple("abcdefgh")
WAYS = st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from(NAMES)), max_size=20)


@given(WAYS)
def test_every_way_that_is_no_setback_leads_down(ways):
    layers = layer_stages(NAMES, ways, cost_to_go={})
    for origin, target in ways:
        if (origin, target) not in layers.setbacks:
            assert layers.row_of[origin] < layers.row_of[target]
        if origin == target or target == NAMES[0]:
            assert (origin, target) in layers.setbacks


@given(WAYS)
def test_no_more_setbacks_than_needed_to_be_without_circles(ways):
    """Without the start's own, each setback closes a circle: put back alone, it leads up."""
    layers = layer_stages(NAMES, ways, cost_to_go={})
    forward = {way for way in ways if way not in layers.setbacks}
    for origin, target in layers.setbacks:
        if target != NAMES[0]:
            assert origin == target or reachable(forward, target, origin)


def reachable(ways, start, end):
    seen, waiting = {start}, [start]
    while waiting:
        here = waiting.pop()
        for origin, target in ways:
            if origin == here and target not in seen:
                seen.add(target)
                waiting.append(target)
    return end in seen


def test_of_two_ways_on_the_shorter_step_is_forward():
    """From 0 one may reach 1 or 2; from 2 one may fall to 1: the fall is the setback."""
    ways = [("0", "2"), ("0", "1"), ("1", "2"), ("2", "1")]
    layers = layer_stages(["0", "1", "2"], ways, cost_to_go={"0": 9.0, "1": 5.0, "2": 2.0})
    assert layers.setbacks == {("2", "1")}
    assert layers.row_of == {"0": 0, "1": 1, "2": 2}


def test_order_in_the_rows_is_the_best_of_all_orders():
    """Brute force over every order of both rows of a small picture."""
    ways = [("a", "b"), ("a", "c"), ("a", "d"), ("b", "g"), ("c", "f"), ("d", "e")]
    layers = layer_stages(NAMES[:7], ways, cost_to_go={})
    pieces = links(ways, layers.row_of)
    fewest = min(
        crossings([layers.rows[0], middle, last], pieces)
        for middle in itertools.permutations(layers.rows[1])
        for last in itertools.permutations(layers.rows[2])
    )
    assert crossings(layers.rows, pieces) == fewest == 0


@given(st.lists(st.tuples(st.floats(-500, 500), st.floats(10, 200)), min_size=1, max_size=12))
def test_places_in_a_row_are_the_nearest_that_leave_gaps(spots):
    """Agrees with scipy's isotonic regression on places less their least distances."""
    wanted, widths = zip(*spots, strict=True)
    placed = spread_out(wanted, widths)
    least = [(a + b) / 2 + GAP for a, b in itertools.pairwise(widths)]
    offsets = np.concatenate([[0.0], np.cumsum(least)])
    expected = isotonic_regression(np.array(wanted) - offsets).x + offsets
    np.testing.assert_allclose(placed, expected, atol=1e-6)
    assert np.all(np.diff(placed) >= np.array(least) - 1e-6)


def overlap(a, b):
    return (
        min(a.x + a.width, b.x + b.width) - max(a.x, b.x) > 0
        and min(a.y + a.height, b.y + b.height) - max(a.y, b.y) > 0
    )


@given(
    st.lists(
        st.tuples(
            st.integers(0, 11), st.integers(0, 11), st.sampled_from(["etch", "seal", "warm"])
        ),
        max_size=30,
    )
)
def test_no_box_stands_on_another_and_every_way_is_drawn(ways):
    stages = tuple(PictureStage(f"stage {at}", float(12 - at), start=at == 0) for at in range(12))
    edges = tuple(PictureEdge(f"stage {a}", f"stage {b}", step, odds=0.5) for a, b, step in ways)
    picture = draw_route(RouteDrawing("any", stages=stages, edges=edges))
    assert len(picture.boxes) == 12
    assert len(picture.lines) == len(edges)
    for a, b in itertools.combinations(picture.boxes, 2):
        assert not overlap(a, b)
    for box in picture.boxes:
        assert box.x >= 0
        assert box.x + box.width <= picture.width
        assert box.y + box.height <= picture.height


def test_setbacks_of_the_sample_run_back_and_the_rest_down(sample):
    route = sample["storm_lantern"]().routes[0]
    picture = draw_route(route)
    shown = {box.stage.name: box.y for box in picture.boxes}
    assert shown["empty table"] < shown["bare frame"] < shown["marked frame"]
    assert shown["marked frame"] < shown["storm lantern"] == shown["dull lantern"]
    back = [line for line in picture.lines if line.kind.endswith("back")]
    assert len(back) == 5  # etch, seal, two of warm again, sell out
    assert {label.text for label in picture.labels} == {
        *("2.5 %", "98 %", "76 %", "14 %", "10 %", "35 %", "65 %")
    }


def test_offers_of_the_market_stand_in_the_box(sample):
    picture = draw_route(sample["storm_lantern"]().routes[0])
    notes = {box.stage.name: box.notes for box in picture.boxes}
    assert notes["marked frame"] == ["117 to go", "buys in at 214"]
    tabs = {box.stage.name: [tab.text for tab in box.tabs] for box in picture.boxes}
    assert sorted(tabs["dull lantern"]) == ["sell out 88.4", "warm again"]


def chain(count):
    names = [f"mark {at}" for at in range(count)]
    stages = [
        PictureStage(name, start=at == 0, done=at == count - 1, visits=float(at % 5))
        for at, name in enumerate(names)
    ]
    edges = [PictureEdge(a, b, "mark", best=True) for a, b in itertools.pairwise(names)]
    return stages, edges


def test_thirty_stages_are_all_shown_and_more_are_folded():
    assert fold_route(*chain(30)).hidden == 0
    folded = fold_route(*chain(80))
    assert len(folded.stages) == 24
    assert folded.hidden == 56
    names = [stage.name for stage in folded.stages]
    assert names[0] == "mark 0"
    assert "mark 79" in names


def test_a_folded_chain_still_leads_from_start_to_done():
    folded = fold_route(*chain(80))
    assert reachable({(e.origin, e.target) for e in folded.edges}, "mark 0", "mark 79")
    shown = {stage.name for stage in folded.stages}
    assert {e.origin for e in folded.edges} | {e.target for e in folded.edges} <= shown


def test_a_route_without_stages_has_no_picture():
    assert draw_route(RouteDrawing("bare")) is None
