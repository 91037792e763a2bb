"""Pages are readable: narrow and wide, light and dark, on paper, by keyboard."""

from __future__ import annotations

import base64

import pytest

from reports.pages_data import PiecePage, Report

pytestmark = pytest.mark.browser

STORM, FRAME, INDEX = "piece-storm-lantern.html", "item-lantern-frame.html", "index.html"


@pytest.mark.parametrize("page", [INDEX, STORM, FRAME])
@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_runs_out_of_the_view(browser, folder, page, width):
    browser.look(width=width)
    browser.open(folder / page)
    browser.open_details()
    assert browser.out_of_view() == []


@pytest.mark.parametrize("page", [STORM, FRAME])
@pytest.mark.parametrize("width", [390, 1280])
def test_chart_words_stay_inside_and_apart(browser, folder, page, width):
    browser.look(width=width)
    browser.open(folder / page)
    assert browser.chart_word_faults() == []


def test_route_pictures_keep_their_words_apart(browser, sample, tmp_path):
    from reports.write import write_report

    storm = sample["storm_lantern"]()
    routes = (*storm.routes, sample["long_route"]())
    report = Report("Harrow Fen", storm.craft["as_of"], "shell", (PiecePage(storm.craft, routes),))
    written = write_report(tmp_path, report)
    browser.look()
    browser.open(written.index.with_name(STORM))
    browser.open_details()
    faults = browser.value(
        """
        [...document.querySelectorAll('.picture svg')].flatMap((svg) => {
          const [width, height] = [svg.viewBox.baseVal.width, svg.viewBox.baseVal.height];
          const texts = [...svg.querySelectorAll('text')].map((each) => [each, each.getBBox()]);
          const out = texts.filter(([, b]) => b.x < 0 || b.y < 0 || b.x + b.width > width
            || b.y + b.height > height).map(([e]) => 'outside: ' + e.textContent);
          const meet = texts.flatMap(([a, p], at) => texts.slice(0, at).filter(([, q]) =>
            Math.min(p.x + p.width, q.x + q.width) - Math.max(p.x, q.x) > 1
            && Math.min(p.y + p.height, q.y + q.height) - Math.max(p.y, q.y) > 3)
            .map(([b]) => `${a.textContent} meets ${b.textContent}`));
          const spill = [...svg.querySelectorAll('.stage')].filter((stage) => {
            const box = stage.querySelector('rect').getBBox();
            return [...stage.querySelectorAll('text')].some((text) => {
              const words = text.getBBox();
              return words.x < box.x || words.x + words.width > box.x + box.width;
            });
          }).map((stage) => 'spills: ' + stage.textContent);
          return [...out, ...meet, ...spill];
        })
        """
    )
    assert browser.value("document.querySelectorAll('.picture svg').length") == 3
    assert faults == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("page", [INDEX, STORM, FRAME])
def test_words_stand_out_from_what_is_behind(browser, folder, page, scheme):
    """Source: WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1."""
    browser.look(scheme=scheme)
    browser.open(folder / page)
    browser.open_details()
    seen = browser.contrasts()
    assert len(seen) > 50
    assert [each for each in seen if each[0] < 4.5] == []


def test_dark_view_is_dark_and_charts_follow_a_change(browser, folder):
    browser.look(scheme="light")
    browser.open(folder / STORM)
    bar = "document.getElementById('cost').data[0].marker.color[0]"
    ground = "getComputedStyle(document.body).backgroundColor"
    light = browser.value(f"[{bar}, {ground}]")
    browser.look(scheme="dark")
    browser.wait_for(f"{bar} !== '{light[0]}'")
    dark = browser.value(f"[{bar}, {ground}]")
    assert sum(map(int, dark[1][4:-1].split(","))) < 150 < sum(map(int, light[1][4:-1].split(",")))


def test_paper_is_light_and_charts_fit_it(browser, folder):
    browser.look(scheme="dark")
    browser.open(folder / STORM)
    width = "Math.max(...[...document.querySelectorAll('.main-svg')].map(e => e.clientWidth))"
    assert browser.value(width) > 700
    browser.value("dispatchEvent(new Event('beforeprint'))")
    assert browser.value(width) <= 640
    ink = "getComputedStyle(document.documentElement).getPropertyValue('--ink')"
    assert browser.value(ink) == "#22292f"
    browser.value("dispatchEvent(new Event('afterprint'))")
    assert browser.value(width) > 700
    paper = base64.b64decode(browser.ask("Page.printToPDF", printBackground=True)["data"])
    assert paper.startswith(b"%PDF")


def test_keyboard_goes_first_to_the_skip_link_and_shows_where_it_is(browser, folder):
    browser.look()
    browser.open(folder / STORM)
    for kind in ("rawKeyDown", "keyUp"):
        browser.ask("Input.dispatchKeyEvent", type=kind, key="Tab", windowsVirtualKeyCode=9)
    assert browser.value("document.activeElement.className") == "skip"
    assert browser.value("getComputedStyle(document.activeElement).outlineStyle") == "solid"
    assert browser.value("document.activeElement.getBoundingClientRect().left") >= 0
    for kind in ("rawKeyDown", "char", "keyUp"):
        more = {"text": "\r"} if kind == "char" else {}
        browser.ask(
            "Input.dispatchKeyEvent", type=kind, key="Enter", windowsVirtualKeyCode=13, **more
        )
    browser.wait_for("document.activeElement.id === 'content'")
