"""Pages are readable: narrow and wide, light and dark, on paper, by keyboard."""

from __future__ import annotations

import base64

import pytest

from reports.pages_data import PiecePage, Report

pytestmark = pytest.mark.browser

STORM, FRAME, INDEX = "piece-storm-lantern.html", "item-lantern-frame.html", "index.html"
OPEN_ALL = "document.querySelectorAll('details').forEach(each => { each.open = true })"
CONTRAST = """
(() => {
  const canvas = document.createElement('canvas').getContext('2d', { willReadFrequently: true });
  const channels = (colour) => {
    canvas.fillStyle = colour; canvas.fillRect(0, 0, 1, 1);
    return [...canvas.getImageData(0, 0, 1, 1).data].slice(0, 3).map((each) => {
      const part = each / 255;
      return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    });
  };
  const light = (colour) => {
    const [red, green, blue] = channels(colour);
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  };
  const behind = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if (colour !== 'rgba(0, 0, 0, 0)') return colour;
    }
    return 'white';
  };
  const ratio = (a, b) => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  return [...document.querySelectorAll('main *, header *, footer *')]
    .filter((each) => [...each.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
    .map((each) => {
      const style = getComputedStyle(each);
      const colour = each instanceof SVGElement ? style.fill : style.color;
      if (each instanceof SVGElement && (each.matches('title, .tab'))) return null;
      return [ratio(light(colour), light(behind(each))), each.tagName, each.textContent.trim()];
    })
    .filter(Boolean);
})()
"""


@pytest.mark.parametrize("page", [INDEX, STORM, FRAME])
@pytest.mark.parametrize("width", [390, 1280])
def test_nothing_runs_out_of_the_view(browser, folder, page, width):
    browser.look(width=width)
    browser.open(folder / page)
    browser.value(OPEN_ALL)
    assert browser.value("document.documentElement.scrollWidth") <= width
    outside = browser.value(
        "[...document.querySelectorAll('main *')].filter(each => !each.closest('.scroll')"
        " && each.getClientRects().length && !each.closest('.plot > *')"
        " && each.getBoundingClientRect().right > innerWidth + 0.5)"
        ".map(each => each.tagName + ' ' + each.textContent.slice(0, 40))"
    )
    assert outside == []


@pytest.mark.parametrize("page", [STORM, FRAME])
@pytest.mark.parametrize("width", [390, 1280])
def test_chart_words_stay_inside_and_apart(browser, folder, page, width):
    browser.look(width=width)
    browser.open(folder / page)
    faults = browser.value(
        """
        [...document.querySelectorAll('.plot')].flatMap((plot) => {
          const frame = plot.getBoundingClientRect();
          const texts = [...plot.querySelectorAll('.xtick, .ytick, .annotation-text,'
            + ' .xtitle, .ytitle')].map((each) => [each.textContent, each.getBoundingClientRect()]);
          const out = texts.filter(([, r]) => r.left < frame.left - 1 || r.right > frame.right + 1
            || r.top < frame.top - 1 || r.bottom > frame.bottom + 1).map(([t]) => 'outside: ' + t);
          const meet = texts.flatMap(([a, r], at) => texts.slice(0, at).filter(([, s]) =>
            Math.min(r.right, s.right) - Math.max(r.left, s.left) > 2
            && Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top) > 3)
            .map(([b]) => `${plot.id}: ${a} meets ${b}`));
          return [...out, ...meet];
        })
        """
    )
    assert faults == []


def test_route_pictures_keep_their_words_apart(browser, sample, tmp_path):
    from reports.write import write_report

    storm = sample["storm_lantern"]()
    routes = (*storm.routes, sample["long_route"]())
    report = Report("Harrow Fen", storm.craft["as_of"], "shell", (PiecePage(storm.craft, routes),))
    written = write_report(tmp_path, report)
    browser.look()
    browser.open(written.index.with_name(STORM))
    browser.value(OPEN_ALL)
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
    browser.value(OPEN_ALL)
    seen = browser.value(CONTRAST)
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
