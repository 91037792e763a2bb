"""Pages as text: well ordered, escaped, complete, and with nothing from elsewhere."""

from __future__ import annotations

import dataclasses
import functools
import itertools
import json
import operator
import re
from html.parser import HTMLParser

import pytest

from reports.pages import render_pages
from reports.pages_data import Report

VOID = {"meta", "link"}


class Page(HTMLParser):
    """What a page holds: elements with their attributes, in order, and words by element."""

    def __init__(self, text):
        super().__init__()
        self.elements, self.open, self.words = [], [], {}
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data):
        if self.open:
            self.words.setdefault(self.open[-1], []).append(data)

    def tags(self, *names):
        return [(tag, attrs) for tag, attrs in self.elements if tag in names]


@pytest.fixture(scope="module")
def pages(report):
    return render_pages(report)


def test_every_element_is_closed_and_headings_come_in_order(pages):
    for name, text in pages.items():
        levels = [int(tag[1]) for tag, _ in Page(text).tags("h1", "h2", "h3", "h4")]
        assert levels[0] == 1, name
        assert levels.count(1) == 1, name
        assert all(b - a <= 1 for a, b in itertools.pairwise(levels)), name


def test_landmarks_language_and_a_way_past_the_head(pages):
    for text in pages.values():
        page = Page(text)
        for landmark in ("header", "nav", "main", "footer"):
            assert len(page.tags(landmark)) == 1
        assert dict(page.tags("html")[0][1])["lang"] == "en"
        skip = page.tags("a")[0][1]
        assert skip["class"] == "skip"
        assert skip["href"] == "#" + page.tags("main")[0][1]["id"]


def test_charts_are_named_and_tables_have_captions(pages):
    for text in pages.values():
        page = Page(text)
        assert len(page.tags("table")) == len(page.tags("caption"))
        for _, attrs in page.tags("div"):
            if attrs.get("class") == "plot":
                assert attrs["role"] == "img"
                assert attrs["aria-label"].startswith("Chart: ")
        for _, attrs in page.tags("svg"):
            if attrs.get("aria-hidden") != "true":
                assert attrs["role"] == "img"
                assert "stages" in attrs["aria-label"]


def test_ids_are_unique_and_references_lead_somewhere(pages):
    for text in pages.values():
        page = Page(text)
        ids = [attrs["id"] for _, attrs in page.elements if "id" in attrs]
        assert len(set(ids)) == len(ids)
        named = {attrs.get("aria-labelledby") for _, attrs in page.elements} - {None}
        assert named <= set(ids)
        tips = {attrs.get("marker-end") for _, attrs in page.elements} - {None}
        assert {tip[5:-1] for tip in tips} <= set(ids)


def test_nothing_comes_from_elsewhere(pages):
    for text in pages.values():
        page = Page(text)
        for _, attrs in page.elements:
            for key in ("src", "href"):
                assert not re.match(r"[a-z]+:|//", attrs.get(key) or "")
        policy = next(
            attrs["content"]
            for _, attrs in page.tags("meta")
            if attrs.get("http-equiv") == "Content-Security-Policy"
        )
        assert policy.startswith("default-src 'none'; script-src 'self' file:;")
        assert "unsafe-eval" not in policy


HOSTILE = '"><script>alert(1)</script><img src=x onerror=alert(1)>{{ 7*7 }}\u2028'


def hostile(value):
    """The same report with every text in it replaced by markup."""
    if dataclasses.is_dataclass(value):
        fields = {each.name: getattr(value, each.name) for each in dataclasses.fields(value)}
        kept = {"at", "as_of", "side", "kind", "newest"}
        return type(value)(**{k: v if k in kept else hostile(v) for k, v in fields.items()})
    if isinstance(value, dict):
        kept = {"for", "verdict", "as_of", "newest", "action"}
        return {k: v if k in kept else hostile(v) for k, v in value.items()}
    if isinstance(value, (tuple, list)):
        return type(value)(hostile(each) for each in value)
    return HOSTILE + value if isinstance(value, str) else value


def test_text_from_files_is_never_markup(report):
    plain = render_pages(report)
    evil = render_pages(hostile(report))
    assert len(evil) == len(plain)
    for text in evil.values():
        page = Page(text)
        assert not page.tags("img")
        assert {attrs.get("src") for _, attrs in page.tags("script")} <= {
            *(None, "plotly.min.js", "charts.js")
        }
        assert all("onerror" not in attrs for _, attrs in page.elements)
        assert "49" not in "".join(page.words["h1"])


def test_chart_data_is_read_back_as_it_was(pages, report):
    text = pages["piece-storm-lantern.html"]
    script = "".join(Page(text).words["script"])
    figures = json.loads(script)
    assert set(figures) == {"cost", "parts", "break-even", "routes"}
    means = [each["mean"] for each in report.pieces[0].craft["routes"]]
    assert figures["routes"]["data"][0]["x"] == means


def test_every_number_of_the_answer_stands_on_its_page(pages, report):
    craft = report.pieces[0].craft
    page = Page(pages["piece-storm-lantern.html"])
    values = {attrs["value"] for _, attrs in page.tags("data")}
    numbers = [craft["make"]["mean"], craft["make"]["sd"], craft["make"]["shortfall_95"]]
    numbers += [*craft["make"]["quantiles"].values(), craft["buy"]["level"], craft["saving"]["sd"]]
    numbers += [each[key] for each in craft["routes"] for key in ("mean", "sd", "chance_cheapest")]
    numbers += craft["uncertainty"].values()
    assert {json.dumps(number) for number in numbers} <= values


def test_what_every_piece_warns_of_is_said_once(report):
    both = "Follow the rules of the game."
    pieces = [
        dataclasses.replace(page, craft={**page.craft, "cautions": [both, f"only {at}"]})
        for at, page in enumerate(report.pieces)
    ]
    text = render_pages(dataclasses.replace(report, pieces=pieces))["index.html"]
    assert text.count(both) == 1
    assert all(text.count(f"only {at}") == 1 for at in range(3))


def test_what_is_missing_is_a_dash_and_never_a_null(pages):
    words = Page(pages["piece-moth-lantern.html"]).words
    assert words["span"].count("–") == 6
    joined = " ".join(functools.reduce(operator.iadd, words.values(), []))
    assert "None" not in joined
    assert "nan" not in joined


def test_an_empty_workspace_has_a_page_that_says_so():
    pages = render_pages(Report("Harrow Fen", "2026-10-30T18:00:00Z", "shell"))
    assert list(pages) == ["index.html"]
    assert "there is no route in this workspace" in pages["index.html"]
    assert "No price is in the book yet" in pages["index.html"]
