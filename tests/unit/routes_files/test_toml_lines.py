"""Lines of keys, against positions counted by hand in the text."""

from __future__ import annotations

import tomllib
from pathlib import PurePath

import pytest

from advisor.routes.toml_lines import index_lines

TEXT = '''# a comment with [brackets] and "quotes"
[route]
makes = "a" # behind a value
"quoted key" = 1
a.b . "c d" = 2

[[step]]
name = "x"
uses = { "lantern frame" = 1, q = {z=1} }
[step.outcomes]
"m f" = "1 in 40"
'e t' = { odds = [
 1, # not the end ]
 "a,]",
], text = """x
y"""" }
[[step]]
v = [ [1,2], {a=1},
  {b = 1979-05-27 07:32:00}]
name = \'\'\'
[[step]]
\'\'\'
[step.outcomes.deep]
k=1
[market]
"caf\\u00e9 \\"x\\"" = 1
'''

COUNTED = {
    ("route",): 2,
    ("route", "makes"): 3,
    ("route", "quoted key"): 4,
    ("route", "a", "b", "c d"): 5,
    ("step", 0): 7,
    ("step", 0, "uses", "lantern frame"): 9,
    ("step", 0, "uses", "q", "z"): 9,
    ("step", 0, "outcomes"): 10,
    ("step", 0, "outcomes", "m f"): 11,
    ("step", 0, "outcomes", "e t", "odds"): 12,
    ("step", 0, "outcomes", "e t", "odds", 1): 14,
    ("step", 0, "outcomes", "e t", "text"): 15,
    ("step", 1): 17,
    ("step", 1, "v", 0, 1): 18,
    ("step", 1, "v", 2, "b"): 19,
    ("step", 1, "name"): 20,
    ("step", 1, "outcomes", "deep", "k"): 24,
    ("market", 'café "x"'): 26,
}


def paths_in(value, path=()):
    """Every path of keys and positions in plain values."""
    parts = ()
    if isinstance(value, dict):
        parts = value.items()
    elif isinstance(value, list):
        parts = enumerate(value)
    for key, inner in parts:
        yield (*path, key)
        yield from paths_in(inner, (*path, key))


@pytest.mark.parametrize(("path", "line"), COUNTED.items())
def test_each_key_has_the_line_it_is_written_in(path, line):
    assert index_lines(TEXT, PurePath("x")).lines[path] == line


def test_every_key_that_the_reader_finds_has_a_line():
    found = set(index_lines(TEXT, PurePath("x")).lines)
    assert found == set(paths_in(tomllib.loads(TEXT)))


def test_an_unknown_key_has_the_line_of_the_table_around_it():
    index = index_lines(TEXT, PurePath("x"))
    assert index.line_of(("step", 0, "uses", "nothing")) == 9
    assert index.line_of(("nothing",)) is None


def test_an_empty_text_has_no_lines():
    assert index_lines("\n\n# nothing\n", PurePath("x")).lines == {}
