"""Every fault of a route file: one sentence with the line, the step and what would be right."""

from __future__ import annotations

import pytest

from advisor.errors import BadInput
from advisor.routes.read import read_route

HEAD = '[route]\nmakes = "lamp"\n'
STEP = '[[step]]\nname = "lift"\nfrom = "table"\n'

# (text, line, parts of the sentence)
HEADS = [
    ("", None, ["the file is empty"]),
    ("# nothing\n", None, ["the file is empty"]),
    ("[rout]\n", 1, ["`rout` is not known here", 'did you mean "route"?']),
    ('[[step]]\nname = "x"\n', None, ["[route] is missing"]),
    ('[route]\nabout = "x"\n' + STEP + 'to = "lamp"\n', 1, ["`makes` is missing"]),
    ("[route]\nmakes = 3\n" + STEP + 'to = "lamp"\n', 2, ["`makes` is a whole number"]),
    ('[route]\nmakes = "  "\n' + STEP + 'to = "lamp"\n', 2, ["`makes` is empty"]),
    ('[route]\nmakes = "{n}"\n' + STEP + 'to = "lamp"\n', 2, ["has braces"]),
    ('[route]\nmake = "a"\n', 2, ["`make` is not known here", 'did you mean "makes"?']),
    ('[route]\nmakes = "a"\nzzz = 1\n', 3, ["`zzz` is not known here", "known are makes"]),
    ("route = 3\n", 1, ["`route` is a whole number", "a table"]),
    (HEAD, None, ["the route has no steps"]),
    ("step = []\n" + HEAD, None, ["the route has no steps"]),
    ("step = 3\n" + HEAD, 1, ["`step` is a whole number", "[[step]]"]),
    ("step = [3]\n" + HEAD, 1, ["`step` is a list", "[[step]]"]),
    (HEAD + "base = 'x'\n" + STEP + 'to = "lamp"\n', 3, ["`base`", "without `pool`"]),
    (HEAD + STEP + 'to = "lamp"\n[finish]\n', 7, ["[finish]", "names no pool"]),
    (HEAD + STEP + 'to = "lamp"\n[[grade]]\nitem = "x"\n', 7, ["[grade]", "names no pool"]),
    (HEAD + "about = 3\n" + STEP + 'to = "lamp"\n', 3, ["`about` is a whole number"]),
    (HEAD + STEP + 'to = "lamp"\n[market]\ntable = 3\n', 8, ["`table` is a whole number"]),
    (HEAD + STEP + 'to = "lamp"\n[market]\n"t {n}" = "x"\n', 8, ["has braces"]),
    (
        HEAD + 'pool = "p"\nfinish = "x"\n' + STEP + 'to = "lamp"\n',
        4,
        ["`finish` names a stage", "[finish]"],
    ),
    (HEAD + 'pool = "p"\n' + STEP + 'to = "lamp"\n', 1, ["`base` is missing"]),
    (
        HEAD + 'pool = "p"\nbase = "b"\nitem_level = 1.5\n' + STEP + 'to = "lamp"\n',
        5,
        ["`item_level` is a number", "a whole number"],
    ),
]

# (lines after `from`, counted from 6; line; parts)
STEPS = [
    ("to = 3\n", 6, ["`to` is a whole number", "text in quotes"]),
    ("", 3, ["leads nowhere"]),
    ('to = "a"\noutcomes = { a = 1 }\n', 6, ["both `to` and `outcomes`"]),
    ("outcomes = {}\n", 6, ["`outcomes` is empty"]),
    ("outcomes = [1]\n", 6, ["`outcomes` is a list"]),
    ('outcomes = { "" = 1 }\n', 6, ["an outcome has no name"]),
    ('to = "a"\nuse = 3\n', 7, ["`use` is not known here", 'did you mean "uses"?']),
    ('to = "a"\nuses = 3\n', 7, ["`uses` is a whole number", "a table"]),
    ('to = "a"\nuses = { wax = 0 }\n', 7, ["`wax` is 0", "more than 0"]),
    ('to = "a"\nuses = { wax = -1 }\n', 7, ["`wax` is -1"]),
    ('to = "a"\nuses = { wax = nan }\n', 7, ["`wax` is NaN"]),
    ('to = "a"\nuses = { wax = inf }\n', 7, ["`wax` is Infinity"]),
    ('to = "a"\nuses = { wax = true }\n', 7, ["`wax` is true or false"]),
    ('to = "a"\nuses = { wax = [1] }\n', 7, ["`wax` is a list"]),
    ('to = "a"\nuses = { wax = { a = 1 } }\n', 7, ["`wax` is a table"]),
    ('to = "a"\nuses = { wax = "some" }\n', 7, ["`wax` is 'some'"]),
    ('to = "a"\nuses = { wax = 1e40 }\n', 7, ["`wax` is 1E+40"]),
    ('to = "a"\nuses = { wax = 2026-01-01 }\n', 7, ["`wax` is a date"]),
    ('to = "a"\nuses = { " " = 1 }\n', 7, ["an item without a name"]),
    ('to = "a"\ngives = { wax = -2 }\n', 7, ["`wax` is -2"]),
    ('to = "a"\nfee = "many shells"\n', 7, ["`fee` is 'many shells'", '"2 shell"']),
    ('to = "a"\nfee = "1/0 shell"\n', 7, ["`fee` is '1/0 shell'"]),
    ('to = "a"\nfee = -2\n', 7, ["`fee` is -2", "0 or more"]),
    ('to = "a"\nfee = [2]\n', 7, ["`fee` is a list"]),
    ('to = "a"\nminutes = -0.5\n', 7, ["`minutes` is -0.5", "0 or more"]),
    ('to = "a"\nminutes = "soon"\n', 7, ["`minutes` is 'soon'"]),
    ('to = "a"\nwhen = {}\n', 7, ["`when`", "names no pool"]),
    ('to = "a"\neffect = {}\n', 7, ["`effect`", "names no pool"]),
    ('to = "a"\nput = []\n', 7, ["`put`", "names no pool"]),
    ("outcomes = { a = 40 }\n", 6, ["the odds of 'a' are 40", '"40 %"', "weight = 40"]),
    ("outcomes = { a = -0.1 }\n", 6, ["the odds of 'a' are -0.1"]),
    ("outcomes = { a = nan }\n", 6, ["the odds of 'a'"]),
    ("outcomes = { a = inf }\n", 6, ["the odds of 'a'"]),
    ("outcomes = { a = true }\n", 6, ["the odds of 'a' are 'true or false'"]),
    ("outcomes = { a = [1] }\n", 6, ["the odds of 'a' are 'a list'"]),
    ('outcomes = { a = "often" }\n', 6, ["the odds of 'a' are 'often'", '"1 in 40"']),
    ('outcomes = { a = "120 %" }\n', 6, ["the odds of 'a' are 120 %"]),
    ('outcomes = { a = "1 in 0" }\n', 6, ["the odds of 'a' are '1 in 0'"]),
    ("outcomes = { a = {} }\n", 6, ["'a' has no odds"]),
    ("outcomes = { a = { odd = 1 } }\n", 6, ["`odd`", 'did you mean "odds"?']),
    ("outcomes = { a = { odds = 1, give = {} } }\n", 6, ["`give`", 'did you mean "gives"?']),
    ("outcomes = { a = { odds = 1, weight = 1 } }\n", 6, ["both `odds` and `weight`"]),
    ("outcomes = { a = { weight = -1 } }\n", 6, ["`weight` is -1"]),
    ("outcomes = { a = { weight = 'x' } }\n", 6, ["`weight` is x"]),
    ("outcomes = { a = { weight = [] } }\n", 6, ["`weight` is a list"]),
    ("outcomes = { a = { odds = 1, seen = 3 } }\n", 6, ["`seen` is a whole number", "[3, 120]"]),
    ("outcomes = { a = { odds = 1, seen = [3] } }\n", 6, ["`seen` is a list"]),
    ("outcomes = { a = { odds = 1, seen = [3, 2] } }\n", 6, ["`seen` is [3, 2]"]),
    ("outcomes = { a = { odds = 1, seen = [-1, 2] } }\n", 6, ["`seen` is [-1, 2]"]),
    ("outcomes = { a = { odds = 1, seen = [0.5, 2] } }\n", 6, ["something else than whole"]),
    ('outcomes = { a = "rest", b = "rest" }\n', 6, ["'b' is a second `rest`"]),
    ("outcomes = { a = { weight = 1 }, b = 0.5 }\n", 6, ["'b' has no `weight`"]),
    ('outcomes = { a = { weight = 1 }, b = "rest" }\n', 6, ["'b' has no `weight`"]),
    ("outcomes = { a = { seen = [1, 9] }, b = 0.5 }\n", 6, ["'b' has odds", "only `seen`"]),
    (
        'outcomes = { a = { odds = 0.1, seen = [1, 9] }, b = { odds = "rest", seen = [9, 10] } }\n',
        6,
        ["'b' was seen in 10 tries, another outcome in 9"],
    ),
    (
        'outcomes = { a = { odds = 0.1, seen = [5, 9] }, b = { odds = "rest", seen = [5, 9] } }\n',
        6,
        ["seen 10 times in 9 tries"],
    ),
    (
        'outcomes = { a = { odds = 0.1, seen = [1, 9] }, b = { odds = "rest", seen = [5, 9] } }\n',
        6,
        ["seen 6 times in 9 tries"],
    ),
    ('to = "a"\nvary = {}\n', 7, ["`vary` is empty"]),
    ('to = "a"\nvary = { n = "9..0" }\n', 7, ["`vary` of n is '9..0'", '"0..9"']),
    ('to = "a"\nvary = { n = "many" }\n', 7, ["`vary` of n is 'many'"]),
    ('to = "a"\nvary = { n = 3 }\n', 7, ["`vary` of n is a whole number"]),
    ('to = "a"\nvary = { n = [] }\n', 7, ["`vary` of n is []"]),
    ('to = "a"\nvary = { n = [1, 1] }\n', 7, ["`vary` of n is [1, 1]"]),
    ('to = "a"\nvary = { n = [1.5] }\n', 7, ["`vary` of n holds something else"]),
    ('to = "a"\nvary = { "a b" = "0..1" }\n', 7, ["`vary` has the name 'a b'"]),
    ('to = "a"\nminutes = { by = "n" }\n', 7, ["`values` is missing"]),
    ('to = "a"\nminutes = { by = "n", values = 3 }\n', 7, ["`values` is a whole number"]),
    ('to = "a"\nminutes = { by = "n", values = ["x"] }\n', 7, ["`minutes` is 'x'"]),
    ('to = "a"\nminutes = { by = "a-b", values = [1] }\n', 7, ["`values` is a list", "difference"]),
    ('to = "a"\nminutes = { by = "a-b", values = { x = 1 } }\n', 7, ["the key 'x'"]),
    ('to = "a"\nminutes = { by = "a-b-c", values = [] }\n', 7, ["`by` is 'a-b-c'"]),
    ('to = "a"\nminutes = { values = [] }\n', 7, ["`by` is missing"]),
    ('to = "a"\nminutes = { by = "n", value = [] }\n', 7, ["`value`", 'did you mean "values"?']),
    (
        'vary = { n = "0..1" }\noutcomes = { a = { odds = { by = "n", values = [0.5, 1] }, '
        'seen = [1, 2] }, b = "rest" }\n',
        7,
        ["odds `by` rung, and the step has `seen`"],
    ),
]


def refusal(path) -> BadInput:
    with pytest.raises(BadInput) as caught:
        read_route(path)
    assert caught.value.file == str(path)
    return caught.value


@pytest.mark.parametrize(("text", "line", "parts"), HEADS)
def test_faults_of_the_file(write_route, text, line, parts):
    fault = refusal(write_route(text))
    assert all(part in str(fault) for part in parts), str(fault)
    assert fault.line == line, str(fault)


@pytest.mark.parametrize(("lines", "line", "parts"), STEPS)
def test_faults_of_a_step(write_route, lines, line, parts):
    fault = refusal(write_route(HEAD + STEP + lines))
    assert all(part in str(fault) for part in parts), str(fault)
    assert fault.line == line, str(fault)
    assert fault.step == "lift", str(fault)


def test_a_step_without_a_name_or_a_stage(write_route):
    fault = refusal(write_route(HEAD + '[[step]]\nfrom = "table"\nto = "lamp"\n'))
    assert (fault.line, "`name` is missing" in str(fault)) == (3, True)
    fault = refusal(write_route(HEAD + '[[step]]\nname = "lift"\nto = "lamp"\n'))
    assert (fault.line, "`from` is missing" in str(fault)) == (3, True)
