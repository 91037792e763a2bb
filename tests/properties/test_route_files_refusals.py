"""Whatever a route file holds, it is priced or refused in a sentence; nothing else happens."""

from __future__ import annotations

import datetime as dt
import math
import tempfile
from copy import deepcopy
from pathlib import Path

import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import MakeworthError
from advisor.routes.cost import route_cost
from advisor.routes.read import read_route
from advisor.routes.route_json import route_json

SOUND = {
    "route": {"makes": "lamp", "start": "table", "about": "x"},
    "step": [
        {"name": "take", "from": "table", "uses": {"frame": 1}, "to": "bare 0", "minutes": 1},
        {
            "name": "etch {n}",
            "vary": {"n": "0..3", "m": [1, 2]},
            "from": "bare {n}",
            "uses": {"wax {m}": {"by": "n", "values": [1, 2, 3, 4]}},
            "fee": "2 shell",
            "outcomes": {
                "bare {n+1:0..3}": {"by": "n", "values": ["50 %", "1 in 3", 0.25, "1/5"]},
                "lamp": {"odds": "10 %", "uses": {"lens": 1}, "gives": {"scrap": 2}},
                "table": "rest",
            },
        },
        {
            "name": "seal",
            "from": "bare 3",
            "outcomes": {"lamp": {"odds": 0.5, "seen": [3, 9]}, "bare 0": {"odds": 0.5}},
        },
    ],
    "market": {"bare 3": "third lamp"},
}
SOUND["step"][1]["vary"] = {"n": "0..3"}
SOUND["step"][1]["uses"] = {"wax": {"by": "n", "values": [1, 2, 3, 4]}}

WORDS = [
    "",
    " ",
    "lamp",
    "table",
    "bare {n}",
    "bare 3",
    "{",
    "rest",
    "2 %",
    "1 in 0",
    "0..9",
    "n-n",
]
KEYS = ["by", "values", "odds", "weight", "seen", "uses", "vary", "lamp", "outcomes", "n", "pool"]
SIMPLE = (
    st.sampled_from(WORDS)
    | st.text(max_size=4)
    | st.integers(-3, 10**20)
    | st.sampled_from([0.0, 0.5, -1.5, 1e300, math.nan, math.inf, -math.inf])
    | st.booleans()
    | st.sampled_from([dt.date(2026, 1, 1), dt.time(1, 2), dt.datetime(2026, 1, 1)])
)
VALUES = st.recursive(
    SIMPLE,
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS), inner, max_size=3)
    ),
    max_leaves=4,
)


def paths_of(value, path=()):
    yield path
    parts = ()
    if isinstance(value, dict):
        parts = value.items()
    elif isinstance(value, list):
        parts = enumerate(value)
    for key, inner in parts:
        yield from paths_of(inner, (*path, key))


PATHS = [path for path in paths_of(SOUND) if path]


def put(whole, path, value):
    """Put a value at a path; None takes it away."""
    here = whole
    for key in path[:-1]:
        try:
            here = here[key]
        except (KeyError, IndexError, TypeError):
            return
    try:
        if value is None:
            del here[path[-1]]
        else:
            here[path[-1]] = value
    except (KeyError, IndexError, TypeError):
        return


def ask(text: bytes, **question) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lamp.toml"
        path.write_bytes(text)
        route = read_route(path)
        buy = dict.fromkeys(["frame", "wax", "lens", "third lamp"], 2.0)
        cost = route_cost(
            "lamp", routes={"lamp": route}, buy=buy, sell={"scrap": 0.1}, money="shell", **question
        )
    route_json(cost, as_of="2026-01-01T00:00:00Z")


def test_the_sound_file_is_priced():
    ask(tomlkit.dumps(SOUND).encode())


@settings(max_examples=300, deadline=None)
@given(st.lists(st.tuples(st.sampled_from(PATHS), st.none() | VALUES), min_size=1, max_size=2))
def test_a_file_with_anything_in_it(changes):
    whole = deepcopy(SOUND)
    for path, value in changes:
        put(whole, path, value)
    try:
        text = tomlkit.dumps(whole)
    except (ValueError, TypeError):
        return
    try:
        ask(text.encode("utf-8", "surrogatepass"))
    except MakeworthError as fault:
        assert str(fault)


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_a_file_cut_or_scrambled_anywhere(data):
    text = bytearray(tomlkit.dumps(SOUND).encode())
    place = data.draw(st.integers(0, len(text) - 1))
    change = data.draw(st.sampled_from(["cut", "byte", "drop"]))
    if change == "cut":
        del text[place:]
    elif change == "byte":
        text[place] = data.draw(st.integers(0, 255))
    else:
        del text[place : place + data.draw(st.integers(1, 20))]
    try:
        ask(bytes(text))
    except MakeworthError as fault:
        assert str(fault)
