"""What effects and wants are called in a guide, and which pieces a rule is for."""

from __future__ import annotations

from fractions import Fraction
from types import SimpleNamespace

import pytest

from advisor.tasks.guide_pool import _rule, effect_words, want_words
from advisor.tasks.guide_steps import _plain
from reports.guide_data import Then

POOL = SimpleNamespace(count={"all": {3: Fraction(6, 10), 4: Fraction(3, 10), 5: Fraction(1, 10)}})


@pytest.mark.parametrize(
    ("effect", "said"),
    [
        (
            {"redraw": "all"},
            "all affixes leave and new ones are drawn, 3 (60 %), 4 (30 %) or 5 (10 %) of them",
        ),
        (
            {"redraw": "etched", "count": {1: 2, 2: 1}, "set": "hidden"},
            "all etched affixes leave and new ones of the set hidden are drawn, 1 (67 %) or "
            "2 (33 %) of them",
        ),
        ({"add": 1}, "one affix is drawn onto it"),
        (
            {"add": 2, "kind": "inlaid", "set": "hidden"},
            "2 inlaid affixes of the set hidden are drawn onto it",
        ),
        ({"remove": 1, "kind": "etched"}, "one etched affix is taken off, which one is chance"),
        ({"place": "bright lens"}, "bright lens is put on, for certain"),
        ({"clear": "placed"}, "what was placed leaves, for certain"),
        ({"clear": "bright lens"}, "bright lens leaves, for certain"),
        (
            {"choose": 3, "set": "hidden", "decline": True},
            "3 affixes of the set hidden are offered: take the best one, or none",
        ),
        (
            {"join": ["bright lens"], "frame": "either"},
            "a second piece with bright lens is used up; chance keeps a part of what both carry",
        ),
    ],
)
def test_effects_are_said_in_plain_words(effect, said):
    assert effect_words(effect, POOL) == said


@pytest.mark.parametrize(
    ("want", "said"),
    [
        ({}, "anything on it"),
        ({"all": ["flame:1"]}, "flame 1"),
        (
            {"all": ["flame:2", "glow"], "none": ["moth dance"]},
            "flame 2 or better, glow and no moth dance",
        ),
        ({"any": [{"k": 2, "of": ["a", "b:3"]}]}, "at least 2 of a, b 3 or better"),
        ({"free": {"etched": 1, "inlaid": 2}}, "1 free etched slot and 2 free inlaid slots"),
    ],
)
def test_wants_are_said_in_plain_words(want, said):
    assert want_words(want) == said


def test_a_rule_is_told_the_shorter_way():
    fuse = Then("step", "fuse", 3)
    own = [("flame", "glow"), ("flame", "chime"), ("flame", "seam")]
    other = ("flame", "glow", "chime")
    rule = _rule(fuse, own, [*own, other])
    assert (rule.shared, rule.pieces, rule.exceptions) == (["flame"], (), ["glow and chime"])
    many = [("flame", str(each)) for each in range(3)]
    rule = _rule(fuse, own[:1], [own[0], *many])
    assert (rule.shared, rule.pieces, rule.count) == ([], ["flame and glow"], 1)
    rule = _rule(fuse, own[:2], [*own[:2], *many])
    assert (rule.shared, rule.pieces) == (["flame"], ["glow", "chime"])


def test_braces_are_spoken():
    assert _plain("edge {n+1:0..10} of {m}") == "edge n+1 of m"
