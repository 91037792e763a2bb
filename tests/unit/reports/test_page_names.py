"""File names of pages: safe, unique, lasting."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from reports.page_names import page_name

SAFE = re.compile(r"^item-[a-z0-9-]{1,80}\.html$")


@given(st.text())
def test_any_name_gives_a_safe_file_name(name):
    assert SAFE.match(page_name("item", name))


@given(st.lists(st.text(alphabet="aA -_.é/", max_size=6), unique=True))
def test_no_two_names_share_a_file_even_where_case_does_not_count(names):
    files = [page_name("item", name).casefold() for name in names]
    assert len(set(files)) == len(names)


def test_a_plain_name_keeps_its_look():
    assert page_name("piece", "storm lantern") == "piece-storm-lantern.html"
