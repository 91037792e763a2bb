"""Every error has one root, an exit code, a place in the drawn tree, and one sentence."""

from __future__ import annotations

import inspect

from advisor import errors
from advisor.errors import MakeworthError, WrongUse

CLASSES = [
    each
    for _, each in inspect.getmembers(errors, inspect.isclass)
    if each.__module__ == errors.__name__
]


def test_every_error_has_the_one_root():
    assert all(issubclass(each, MakeworthError) for each in CLASSES)


def test_every_error_is_drawn_in_the_tree():
    for each in CLASSES:
        assert each.__name__ in errors.__doc__


def test_exit_codes_have_one_meaning():
    assert WrongUse.exit_code == 2
    assert {each.exit_code for each in CLASSES if each is not WrongUse} == {1}


def test_sentence_names_place_fault_and_remedy():
    fault = MakeworthError(
        "the odds sum to 0.93", right="they must sum to 1", file="a.toml", line=7, step="etch"
    )
    assert str(fault) == ("a.toml, line 7, step 'etch': the odds sum to 0.93; they must sum to 1")
