"""Every page opens from the disk: quiet, alone, with its numbers and its charts."""

from __future__ import annotations

import math

import pytest

from advisor.figures import amount, percent

pytestmark = pytest.mark.browser

STORM, FRAME = "piece-storm-lantern.html", "item-lantern-frame.html"


def test_every_page_opens_with_an_empty_console_and_asks_no_host(browser, folder):
    browser.look()
    pages = sorted(folder.glob("*.html"))
    assert len(pages) == 14
    for page in pages:
        browser.open(page)
        assert browser.said() == [], page.name
        assert all(url.startswith(folder.as_uri()) for url in browser.requested()), page.name


def test_a_script_from_elsewhere_is_refused(browser, folder):
    """The policy is in force: the page cannot be made to ask a host."""
    browser.open(folder / STORM)
    browser.value(
        "new Promise(done => { const image = new Image(); image.onerror = () => done(1);"
        " image.src = 'http://127.0.0.1:9/x.png'; })"
    )
    assert [each["entry"]["source"] for each in browser.said()] == ["security"]


def shown(browser, key):
    """Exact value and text of the number that stands for a key of the JSON answer."""
    cell = f"document.querySelector('[data-key=\"{key}\"] data')"
    return browser.value(f"[Number({cell}.value), {cell}.textContent]")


def test_main_numbers_are_the_answers_own(browser, folder, report):
    craft = report.pieces[0].craft
    browser.open(folder / STORM)
    assert shown(browser, "make.mean") == [craft["make"]["mean"], amount(craft["make"]["mean"])]
    bad_night = craft["make"]["quantiles"]["0.95"]
    assert shown(browser, "make.quantiles.0.95") == [bad_night, amount(bad_night)]
    assert shown(browser, "buy.level") == [craft["buy"]["level"], amount(craft["buy"]["level"])]
    saving = craft["saving"]["mean"]
    assert shown(browser, "saving.mean") == [saving, amount(saving)]
    for key in ("chance_make_cheaper", "chance_this_one_cheaper"):
        assert shown(browser, key) == [craft[key], percent(craft[key])]


def test_overview_shows_every_piece_with_its_bad_night(browser, folder, report):
    browser.open(folder / "index.html")
    rows = browser.value(
        "[...document.querySelectorAll('#today tbody tr')].map(row => [row.cells[0].textContent,"
        " row.cells[1].textContent, ...[3, 4, 5].map(at => {"
        " const cell = row.cells[at].querySelector('data'); return cell && Number(cell.value)})])"
    )
    expected = []
    for page in report.pieces:
        make, buy = page.craft["make"] or {}, page.craft["buy"] or {}
        bad_night = make.get("quantiles", {}).get("0.95")
        numbers = (make.get("mean"), bad_night, buy.get("level"))
        expected.append([page.craft["piece"], page.craft["verdict"], *numbers])
    assert rows == expected


def test_links_lead_to_pages_that_are_there(browser, folder):
    browser.open(folder / "index.html")
    links = browser.value("[...document.links].map(each => each.getAttribute('href'))")
    named = {link for link in links if not link.startswith("#")}
    assert len(named) == 13
    assert all((folder / link).is_file() for link in named)


def test_cost_chart_has_the_law(browser, folder, report):
    browser.open(folder / STORM)
    bars = browser.value(
        "(({x, y, width}) => [[...x], [...y], [...width]])(document.getElementById('cost').data[0])"
    )
    law = report.pieces[0].routes[0].cost
    middles, percents, _ = bars
    assert math.isclose(sum(percents), 100, abs_tol=0.9)
    mean = sum(a * b for a, b in zip(middles, percents, strict=True)) / sum(percents)
    beyond = max(middles) + middles[1] - middles[0]
    inside = [(c, p) for c, p in zip(law.costs, law.chances, strict=True) if c <= beyond]
    expected = sum(c * p for c, p in inside) / sum(p for _, p in inside)
    assert math.isclose(mean, expected, rel_tol=0.01)
    drawn = browser.value("document.querySelectorAll('#cost .bars .point').length")
    assert drawn == len(middles)


def test_parts_chart_has_every_part(browser, folder, report):
    browser.open(folder / STORM)
    drawn = browser.value("[...document.getElementById('parts').data[0].x]")
    parts = report.pieces[0].routes[0].parts
    assert sorted(drawn) == sorted(part.mean_cost for part in parts)


def test_price_chart_marks_every_quote_and_names_the_screened(browser, folder, report):
    browser.open(folder / FRAME)
    page = next(each for each in report.items if each.prices["item"] == "lantern frame")
    traces = browser.value(
        "document.getElementById('price').data.filter(each => each.text)"
        ".map(each => [each.name, each.x.length, [...each.text]])"
    )
    counts = {name: count for name, count, _ in traces}
    screened = [quote for quote in page.quotes if quote.screened]
    assert counts["screened out"] == len(screened) > 0
    assert sum(counts.values()) == len(page.quotes)
    hover = next(text for name, _, text in traces if name == "screened out")
    assert all("screened out: wrong digit" in each for each in hover)
    marks = browser.value("document.querySelectorAll('#price .scatterlayer .point').length")
    assert marks == len(page.quotes) + 1  # the level now is one more


def test_text_of_a_trader_stays_text(browser, folder, sample):
    browser.open(folder / FRAME)
    browser.value("document.querySelectorAll('details').forEach(each => { each.open = true })")
    traders = browser.value(
        "[...document.querySelectorAll('#all-quotes tr')].map(row => row.cells[4].textContent)"
    )
    assert sample["SLY"] in traders
    assert browser.value("document.querySelectorAll('main img, [onerror]').length") == 0
    browser.value(
        "(() => { const box = document.getElementById('price');"
        " const curve = box.data.findIndex(t => (t.text || []).some(e => e.includes('sly')));"
        " const point = box.data[curve].text.findIndex(e => e.includes('sly'));"
        " Plotly.Fx.hover(box, [{curveNumber: curve, pointNumber: point}]); })()"
    )
    browser.wait_for("document.querySelector('#price .hovertext') !== null")
    assert sample["SLY"] in browser.value("document.querySelector('#price .hovertext').textContent")
    assert (
        browser.value("document.querySelectorAll('.plot image, .plot a[href], .plot a *').length")
        == 0
    )
    assert browser.said() == []
