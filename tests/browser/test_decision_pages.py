"""Supplies, service, sale, luck, ledger, news and guide, on a workspace that has been used."""

from __future__ import annotations

import base64
import contextlib
import io
import json
import os
import re
import shlex
from importlib.util import find_spec
from pathlib import Path

import pytest

from advisor.cli.main import main

pytestmark = pytest.mark.browser

AS_OF = "2026-11-04"
ROUTE, PIECE = "storm-lantern", "storm lantern"
STOCK, SERVICE, SELL = (
    "stock-storm-lantern.html",
    "service-storm-lantern.html",
    "sell-storm-lantern.html",
)
LUCK, LEDGER, FRAME = "luck-storm-lantern.html", "ledger.html", "item-lantern-frame.html"
REPLAY = "replay.html"
ANSWERS = (STOCK, SERVICE, SELL, LUCK, LEDGER, REPLAY)
LOGGED = (
    ("2026-11-02T21:00", "empty table", 60),
    ("2026-11-02T21:20", "marked frame", 1),
    ("2026-11-03T20:00", "empty table", 25),
    ("2026-11-03T20:40", "marked frame", 1),
    ("2026-11-03T21:30", "empty table", 31),
)
ALERTS = """
[[alert]]
item = "lantern frame"
below = 3
send = ["json://secret.invalid/"]

[[alert]]
item = "clear flux"
below = 1

[[alert]]
piece = "storm lantern"
verdict = true
"""


class Evening:
    """A workspace and its report."""

    def __init__(self, folder):
        self.folder = folder
        self.answers = {}

    def run(self, *words):
        out = io.StringIO()
        with contextlib.redirect_stdout(out):
            code = main(["-w", str(self.folder), *[str(word) for word in words]])
        assert code == 0, words
        return out.getvalue()

    def json(self, *words):
        """An answer as JSON; asked once, for nothing is written down between the tests."""
        asked = tuple(str(word) for word in words)
        if asked not in self.answers:
            self.answers[asked] = json.loads(self.run(*asked, "--json"))
        return self.answers[asked]


@pytest.fixture(scope="session")
def evening(tmp_path_factory):
    folder = tmp_path_factory.mktemp("used") / "fen"
    before = dict(os.environ)
    with contextlib.redirect_stdout(io.StringIO()):
        assert main(["start", str(folder), "--timezone", "UTC"]) == 0
    made = Evening(folder)
    prices = ("binding wax 7/3", "etching salt 0.95 x200", "clear flux 10.5 x8", "lens setting 35")
    for day, frame in enumerate((2.4, 2.5, 3.4)):
        at = f"2026-11-0{2 + day}T20:10"
        sold = ("storm lantern 660 x1", "scrap glass 0.8")
        made.run("quote", f"lantern frame {frame} x60", *prices, *sold, "--at", at)
    for at, outcome, count in LOGGED:
        made.run("log", "try", ROUTE, "etch", outcome, "--count", count, "--at", at)
    made.run("log", "buy", "lantern frame", "130", "2.4", "--at", "2026-11-02T20:30")
    made.run("log", "sale", PIECE, "1", "640", "--at", "2026-11-03T22:00")
    settings = folder / "makeworth.toml"
    settings.write_text(settings.read_text() + ALERTS)
    made.run("replay", "--from", "2026-11-03", "--to", AS_OF)
    made.run("report", "--as-of", AS_OF)
    yield made
    os.environ.clear()
    os.environ.update(before)


@pytest.fixture(scope="session")
def axe():
    """The script of axe-core: from the file that MAKEWORTH_AXE names, else as installed."""
    named, package = os.environ.get("MAKEWORTH_AXE"), find_spec("axe_core_python")
    if named:
        return Path(named).read_text()
    if package is None or package.origin is None:
        pytest.skip("axe-core is not installed: pip install axe-core-python")
    return Path(package.origin).with_name("axe.min.js").read_text()


@pytest.fixture(scope="session")
def pages(evening):
    return evening.folder / "reports"


def test_every_decision_has_its_page_and_the_console_stays_empty(browser, pages):
    found = {path.name for path in pages.glob("*.html")}
    assert set(ANSWERS) < found
    browser.look()
    for name in (*ANSWERS, "index.html", FRAME):
        browser.open(pages / name)
        assert browser.said() == [], name
        assert all(url.startswith(pages.as_uri()) for url in browser.requested()), name


@pytest.mark.parametrize("page", [*ANSWERS, "index.html"])
@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
def test_words_fit_and_stand_out(browser, pages, page, width, scheme):
    browser.look(width=width, scheme=scheme)
    browser.open(pages / page)
    assert browser.chart_word_faults() == []
    browser.open_details()
    assert browser.out_of_view() == []
    assert [each for each in browser.contrasts() if each[0] < 4.5] == []


def at_path(answer, path):
    for key in path.split("."):
        answer = answer[int(key)] if isinstance(answer, list) else answer[key]
    return answer


@pytest.mark.parametrize("page", ANSWERS)
def test_facts_are_those_of_the_command_that_the_page_names(browser, evening, pages, page):
    browser.look()
    browser.open(pages / page)
    said = browser.value("document.querySelector('.command code').textContent")
    command = shlex.split(said)
    assert command[0] == "makeworth"
    answer = evening.json(*command[1:])
    facts = browser.value(
        "[...document.querySelectorAll('#facts [data-key]')].map(each =>"
        " [each.dataset.key, ...[each.querySelector('data')].map(shown => shown && +shown.value)])"
    )
    assert len(facts) >= 4
    assert facts == [[key, at_path(answer, key)] for key, _ in facts]


def trace(browser, chart, number=0):
    return browser.value(
        f"(({{x, y}}) => [[...x], [...y]])(document.getElementById('{chart}').data[{number}])"
    )


def test_supply_charts_have_the_curve_and_the_prices_to_pay(browser, evening, pages):
    browser.open(pages / STOCK)
    answer = evening.json("advise", "stock", ROUTE, "--within", 7, "--as-of", AS_OF)
    ahead = [each for each in answer["items"] if each["reserve"]]
    first = max(ahead, key=lambda each: each["expected_cost"])
    x, y = trace(browser, "quantity-1")
    assert x == [each["qty"] for each in first["curve"]]
    assert y == [each["expected_cost"] for each in first["curve"]]
    days, prices = trace(browser, "reserve-1")
    assert days == [0, *(each["day"] for each in first["reserve"])]
    assert prices == [first["pay_at_most"], *(each["price"] for each in first["reserve"])]


def test_loss_chart_goes_through_what_the_answer_says_of_its_price(browser, evening, pages):
    """Two roads: the curve is read off at the price whose chance the answer states."""
    browser.open(pages / SERVICE)
    answer = evening.json("advise", "service", ROUTE, "--as-of", AS_OF)
    term = next(each for each in answer["terms"] if each["kind"] == "fixed")
    for number, key in enumerate(("loss_chance_one", "loss_chance_twenty")):
        x, y = trace(browser, "loss", number)
        at = max(n for n, price in enumerate(x) if price <= term["price"])
        assert y[at + 1] - 1e-9 <= 100 * term[key] <= y[at] + 1e-9
        assert y == sorted(y, reverse=True)
    orders, prices = trace(browser, "orders")
    assert orders == [str(each["orders"]) for each in answer["by_orders"]]
    assert prices == [each["price"] for each in answer["by_orders"]]


def test_sale_charts_have_the_schedule(browser, evening, pages):
    browser.open(pages / SELL)
    rows = evening.json("advise", "sell", PIECE, "--as-of", AS_OF)["schedule"]
    assert trace(browser, "asks") == [[r["day"] for r in rows], [r["ask"] for r in rows]]
    _, sold = trace(browser, "sold")
    assert sold == pytest.approx([100 * r["sold_by_then"] for r in rows])


def test_luck_chart_counts_the_log_and_its_band_is_the_binomial_one(browser, pages):
    """The band against counting up the binomial law, C(n, k) p^k (1-p)^(n-k)."""
    from math import comb

    browser.open(pages / LUCK)
    tries, seen = trace(browser, "tries-1", 5)
    assert tries == [0, 60, 61, 86, 87, 118]
    assert seen == [0, 0, 1, 1, 2, 2]
    at, low = trace(browser, "tries-1", 0)
    _, high = trace(browser, "tries-1", 1)
    assert (at[0], at[-1]) == (0, 118)
    law = [comb(118, k) * 0.025**k * 0.975 ** (118 - k) for k in range(119)]

    def least(share):
        return next(k for k in range(119) if sum(law[: k + 1]) >= share)

    assert (low[-1], high[-1]) == (least(0.025), least(0.975))


def test_ledger_chart_ends_at_the_profit(browser, evening, pages):
    browser.open(pages / LEDGER)
    days, profit = trace(browser, "profit", 1)
    answer = evening.json("ledger", "--as-of", AS_OF)
    assert days == sorted(days)
    assert profit[-1] == pytest.approx(answer["profit"])


def test_replay_chart_adds_up_what_the_advice_won(browser, evening, pages):
    browser.open(pages / REPLAY)
    answer = evening.json("replay", "--from", "2026-11-03", "--to", AS_OF)
    days, won = trace(browser, "won")
    assert days == [each["day"] for each in answer["by_day"]] == ["2026-11-03", "2026-11-04"]
    ways = [
        (answer["craft"]["plain"] or 0) - (answer["craft"]["followed"] or 0),
        (answer["stock"]["paid_plain"] or 0) - (answer["stock"]["paid"] or 0),
        (answer["sell"]["followed"] or 0) - (answer["sell"]["plain"] or 0),
    ]
    assert won[-1] == pytest.approx(sum(ways))
    drawn = browser.value("document.getElementById('craft').data[0].x.map(Number)")
    assert drawn == [answer["craft"][key] for key in ("plain", "followed", "hindsight")]


def test_item_chart_has_the_level_day_by_day(browser, evening, pages):
    browser.open(pages / FRAME)
    line = browser.value(
        "(each => [[...each.x], [...each.y]])(document.getElementById('price').data"
        ".find(each => each.name === 'ask level'))"
    )
    assert [each[:10] for each in line[0]] == ["2026-11-02", "2026-11-03", "2026-11-04"]
    level = evening.json("prices", "lantern frame", "--as-of", AS_OF)["items"][0]["ask"]["level"]
    assert line[1][-1] == pytest.approx(level, rel=0.03)
    assert line[1][0] == pytest.approx(2.4, rel=0.01)


def test_first_page_tells_all_four_decisions_what_is_new_and_which_alerts_hold(browser, pages):
    browser.look()
    browser.open(pages / "index.html")
    labels = browser.value("[...document.querySelectorAll('.others dt a')].map(a => a.innerText)")
    assert [label.split()[0] for label in labels] == ["Supplies", "Service", "Sale"]
    links = browser.value(
        "[...document.querySelectorAll('main a')].map(each => each.getAttribute('href'))"
    )
    assert set(ANSWERS) <= set(links)
    assert all((pages / link).is_file() for link in links)
    changed = browser.value(
        "[...document.querySelectorAll('#changes tbody tr')].map(row =>"
        " [row.cells[0].textContent, row.cells[1].textContent])"
    )
    assert ["lantern frame", "it costs"] in [[what, words[:8]] for what, words in changed]
    alerts = browser.value(
        "[...document.querySelectorAll('[aria-labelledby=alerts] li')].map(each => each.innerText)"
    )
    assert len(alerts) == 3
    assert not alerts[1].startswith("Now: clear flux")
    assert "secret" not in (pages / "index.html").read_text()


def count_pages(browser):
    paper = base64.b64decode(
        browser.ask("Page.printToPDF", printBackground=True, preferCSSPageSize=True)["data"]
    )
    return len(re.findall(rb"/Type\s*/Page[^s]", paper))


@pytest.mark.parametrize("page", ANSWERS)
def test_answer_pages_print(browser, pages, page):
    browser.look()
    browser.open(pages / page)
    browser.value("dispatchEvent(new Event('beforeprint'))")
    width = "Math.max(...[...document.querySelectorAll('.main-svg')].map(e => e.clientWidth))"
    assert browser.value(width) <= 640
    assert 1 <= count_pages(browser) <= 6
    browser.value("dispatchEvent(new Event('afterprint'))")


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_guide_stands_alone_reads_well_and_prints_on_two_pages(
    browser, evening, width, scheme, tmp_path
):
    told = evening.json("report", "guide", ROUTE, "--as-of", AS_OF, "--to", tmp_path)
    browser.look(width=width, scheme=scheme)
    browser.open(Path(told["html"]))
    assert browser.said() == []
    assert browser.requested() == [Path(told["html"]).as_uri()]
    assert browser.out_of_view() == []
    assert [each for each in browser.contrasts() if each[0] < 4.5] == []
    assert 1 <= count_pages(browser) <= 2


@pytest.mark.parametrize(
    "page", [*ANSWERS, "index.html", FRAME, "piece-storm-lantern.html", "guide-storm-lantern.html"]
)
def test_axe_finds_no_serious_fault(browser, evening, pages, page, axe):
    """Source: axe-core, the rules of WCAG 2."""
    if page.startswith("guide"):
        evening.run("report", "guide", ROUTE, "--as-of", AS_OF)
    browser.look()
    browser.open(pages / page)
    browser.open_details()
    browser.value(f"{axe};0")
    found = browser.value(
        "axe.run().then(told => told.violations.filter(each =>"
        " ['serious', 'critical'].includes(each.impact)).map(each => each.id))"
    )
    assert found == []
