"""`makeworth advise evening`: the plan by a second road, its JSON, its face, its refusals."""

from __future__ import annotations

import shutil
from itertools import product

import pytest
from scipy import stats

from advisor.cli.main import main


def certain(makes, minutes, wax, more=""):
    """A route of one certain step."""
    return f"""
[route]
makes = "{makes}"
start = "table"

[[step]]
name = "work on it"
from = "table"
uses = {{ "black wax" = {wax} }}
minutes = {minutes}
to = "{makes}"
{more}"""


TURNED = """
[route]
makes = "glow lantern"
pool = "glow"
base = "lantern frame"
item_level = 10
[finish]
all = ["bright flame"]
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
[[step]]
name = "light it"
when = {}
uses = { "black wax" = 1 }
minutes = 1
effect = { redraw = "all" }
[[grade]]
item = "glow lantern, dim"
all = ["dim flame"]
"""
POOL = """
[pool]
slots = { etched = 1 }
[pool.count]
all = { 1 = 1 }
[[base]]
item = "lantern frame"
[[affix]]
name = "bright flame"
kind = "etched"
weight = 1
[[affix]]
name = "dim flame"
kind = "etched"
weight = 3
"""
SETTINGS = """
money = "shell"
timezone = "UTC"
[trade]
sale_fee = "5 %"
[item.polish]
family = "services"
sells_per_day = 2
[item."harbour lantern"]
sells_per_day = 0.4
[item."marsh lantern"]
sells_per_day = 0.3
"""
ROUTES = {
    "harbour": certain("harbour lantern", 25, 20),
    "marsh": certain("marsh lantern", 40, 30),
    "polish": certain("polish", 20, 4),
}
PRICES = {"harbour lantern": 60, "marsh lantern": 95, "black wax": 1, "polish": 12}


@pytest.fixture(scope="module")
def first_fen(tmp_path_factory):
    folder = tmp_path_factory.mktemp("evening") / "fen"
    assert main(["start", str(folder), "--timezone", "UTC"]) == 0
    for file in (folder / "routes").glob("*.toml"):
        file.unlink()
    for name, text in ROUTES.items():
        (folder / "routes" / f"{name}.toml").write_text(text)
    (folder / "makeworth.toml").write_text(SETTINGS)
    for item, price in (*PRICES.items(), ("lantern frame", 2)):
        words = ("quote", item, str(price), "--at", "2026-10-01T10:00Z")
        assert main([*words, "-w", str(folder)]) == 0
    return folder


@pytest.fixture
def fen(first_fen, tmp_path):
    return shutil.copytree(first_fen, tmp_path / "fen")


@pytest.fixture
def ask(makeworth, fen):
    def run(what, *words):
        prices = [word for item, price in PRICES.items() for word in ("--price", f"{item}={price}")]
        when = ("--as-of", "2026-10-01T12:00Z")
        return makeworth("advise", what, *prices, *when, *words, cwd=fen)

    return run


@pytest.mark.parametrize(("hours", "budget"), [(3, 600), (1.5, 75), (2.5, 51), (0.6, 600)])
def test_plan_by_a_second_road(ask, hours, budget):
    """Without the service: every pair of counts, each item's proceeds as `advise sell` plans
    them for so many pieces in the same week."""

    def proceeds(item, count):
        if not count:
            return 0.0
        words = (item, "--count", str(count), "--json")
        return ask("sell", *words).json["expected_proceeds"]

    def fits(harbour, marsh):
        time, money = 25 * harbour + 40 * marsh, 20 * harbour + 30 * marsh
        return time <= 60 * hours and money <= budget

    pairs = [pair for pair in product(range(8), range(5)) if fits(*pair)]
    harbours = {n: proceeds("harbour lantern", n) for n in {pair[0] for pair in pairs}}
    marshes = {n: proceeds("marsh lantern", n) for n in {pair[1] for pair in pairs}}
    best = max(harbours[h] - 20 * h + marshes[m] - 30 * m for h, m in pairs)
    answer = ask("evening", "--hours", hours, "--budget", budget, "--price", "polish=0.5", "--json")
    assert answer.code == 0, answer.err
    assert answer.json["profit"] == pytest.approx(best, rel=1e-6)
    assert any("polish is not offered" in each for each in answer.json["cautions"])
    assert sum(each["profit"] for each in answer.json["plan"]) == pytest.approx(best, rel=1e-6)


def test_services_come_by_chance(ask, fen, makeworth):
    """Two are said to buy a day and half of those who ask accept: four ask, worth five sales.
    Ten asked one a day: nine after the first in nine days. The k-th order comes with the
    Poisson chance of k or more, and every order takes 20 minutes."""
    for name in ("harbour", "marsh"):
        (fen / "routes" / f"{name}.toml").unlink()
    for place in range(10):
        verb = "declined" if place % 2 else "new"
        words = ("order", verb, f"Customer {place}", "polish", "fixed", "12")
        at = f"2026-09-{place + 15}T10:00Z"
        assert makeworth("log", *words, "--at", at, cwd=fen).code == 0
    words = ("--price", "black wax=1", "--price", "polish=12", "--as-of", "2026-10-01T12:00Z")
    terms = makeworth("advise", "service", "polish", *words, "--json", cwd=fen).json["terms"][0]
    asked = (5 + 9) / (5 / 4 + 9)
    law = stats.poisson(asked * terms["win_chance"])
    expected = (0.95 * terms["price"] - 4) * sum(law.sf(k) for k in range(6))
    words = ("--hours", "2", "--budget", "600", *words, "--json")
    answer = makeworth("advise", "evening", *words, cwd=fen).json
    assert [each["count"] for each in answer["plan"]] == [6]
    assert answer["profit"] == pytest.approx(expected, rel=1e-6)
    assert any("Open orders come first" in each for each in answer["cautions"])


def test_json(ask):
    answer = ask("evening", "--hours", "3", "--budget", "600", "--json").json
    assert set(answer) >= {"verdict", "plan", "profit", "chance_time", "chance_purse", "compare"}
    assert answer["verdict"] == "work"
    # every step is certain, so that what fits on average fits
    assert (answer["chance_time"], answer["chance_purse"]) == (1.0, 1.0)
    assert answer["minutes"] <= 180
    assert answer["worth_of_hour"] >= 0
    assert "service" in {each["kind"] for each in answer["compare"]}
    assert all(set(each) >= {"what", "kind", "profit_per_hour"} for each in answer["compare"])


def test_grades_are_compared(ask, fen):
    """Lit until it shines: a dim flame 3 times in 4. By hand 4 lights for the bright, 4 / 3 for
    the dim one, each 1 wax, on one frame of 2 shell."""
    (fen / "routes" / "glow.toml").write_text(TURNED)
    (fen / "pools").mkdir(exist_ok=True)
    (fen / "pools" / "glow.toml").write_text(POOL)
    sold = ("--price", "glow lantern=30", "--price", "glow lantern, dim=9")
    answer = ask("evening", "--budget", "100", *sold, "--price", "lantern frame=2", "--json").json
    rows = {each["what"]: each for each in answer["compare"]}
    bright = rows["make glow lantern by glow, sell it"]
    dim = rows["make glow lantern, dim by glow, sell it"]
    assert (bright["kind"], dim["kind"]) == ("piece", "grade")
    prices = (*sold, "--price", "lantern frame=2", "--json")
    brings = {
        item: ask("sell", item, *prices).json["expected_proceeds"]
        for item in ("glow lantern", "glow lantern, dim")
    }
    assert bright["profit"] == pytest.approx(brings["glow lantern"] - 2 - 4)
    assert dim["profit"] == pytest.approx(brings["glow lantern, dim"] - 2 - 4 / 3)
    assert dim["profit_per_hour"] == pytest.approx(dim["profit"] * 60 / (4 / 3))


def test_one_table_of_what_an_hour_earns(ask, fen):
    """The same row in both commands, and the plan's profit of one; 25 minutes and 20 shell,
    one's own time worth 30 an hour and not taken off."""
    settings = fen / "makeworth.toml"
    settings.write_text(settings.read_text().replace("[trade]", "[trade]\nhour_value = 30"))
    evening = ask("evening", "--hours", "0.5", "--budget", "600", "--json").json
    selling = ask("sell", "harbour lantern", "--json").json
    what = "make harbour lantern by harbour"
    (row,) = (each for each in evening["compare"] if each["what"] == f"{what}, sell it")
    (same,) = (each for each in selling["compare"] if each["what"] == f"{what}, sell it")
    assert row["profit"] == pytest.approx(selling["expected_proceeds"] - 20)
    assert row == pytest.approx(same)
    assert row["profit_per_hour"] == pytest.approx(row["profit"] / (25 / 60))
    (planned,) = (each for each in evening["plan"] if each["what"] == what)
    assert (planned["count"], planned["profit"]) == (1, pytest.approx(row["profit"]))
    footnote = "time is not taken off"
    assert footnote in " ".join(ask("sell", "harbour lantern").out.split())
    assert footnote in " ".join(ask("evening", "--budget", "600").out.split())


def test_services_planned_count_the_time_of_those_that_come(ask, fen):
    """An hour worth 12: the profit with the time in it differs by 4 an order that comes."""
    words = ("--hours", "0.4", "--budget", "600", "--json")
    for name in ("harbour", "marsh"):
        (fen / "routes" / f"{name}.toml").unlink()
    settings = fen / "makeworth.toml"
    settings.write_text(settings.read_text().replace("[trade]", "[trade]\nhour_value = 12"))
    answer = ask("evening", *words, "--price", "polish=20").json
    (row,) = (each for each in answer["compare"] if each["kind"] == "service")
    (planned,) = answer["plan"]
    terms = ask("service", "polish", "--price", "polish=20", "--json").json["terms"][0]
    # one order comes with a Poisson chance, four ask a day before any offer is logged
    chance = stats.poisson(4 * terms["win_chance"]).sf(0)
    assert planned["profit"] == pytest.approx(row["profit"] * chance)


@pytest.mark.parametrize(
    ("words", "lacks"),
    [
        (("--budget", "5"), "needs 30 shell for one, 25 more than there is"),
        (("--budget", "600", "--hours", "0.25"), "needs 40 minutes, 25 more than there are"),
    ],
)
def test_what_nearly_fits_is_named(ask, words, lacks):
    said = " ".join(ask("evening", *words, "--price", "polish=0.5").out.split())
    assert "REST" in said
    assert "The best way left out would earn" in said
    assert f"make marsh lantern by marsh; it {lacks}." in said


def test_nothing_earns(ask):
    prices = ("--price", "polish=0.5", "--price", "black wax=90")
    said = " ".join(ask("evening", "--budget", "600", *prices).out.split())
    assert "no way earns anything on average" in said


def lucky(fen):
    """The harbour lantern is made in half the tries, each of 25 minutes and 20 wax."""
    text = certain("harbour lantern", 25, 20).replace(
        'to = "harbour lantern"', '[step.outcomes]\n"harbour lantern" = "50 %"\ntable = "rest"'
    )
    (fen / "routes" / "harbour.toml").write_text(text)


def test_chances_are_negative_binomial(ask, fen):
    """Five hours are twelve tries, 300 shell fifteen: enough for n pieces with the chance that
    the n-th success comes within them (closed form)."""
    lucky(fen)
    for name in ("marsh", "polish"):
        (fen / "routes" / f"{name}.toml").unlink()
    words = ("--hours", "5", "--budget", "300", "--price", "harbour lantern=160", "--json")
    answer = ask("evening", *words).json
    count = answer["plan"][0]["count"]
    assert count > 1
    assert answer["chance_time"] == pytest.approx(stats.nbinom(count, 0.5).cdf(12 - count))
    assert answer["chance_purse"] == pytest.approx(stats.nbinom(count, 0.5).cdf(15 - count))
    assert answer["minutes"] == pytest.approx(50 * count)
    assert answer["spent"] == pytest.approx(40 * count)


def test_caution_keeps_money_for_the_bad_night(ask, fen):
    """With luck in the wax, caution plans no more than the purse bears in bad cases."""
    lucky(fen)
    prices = ("--price", "harbour lantern=160", "--budget", "90", "--hours", "9", "--json")
    bold = ask("evening", *prices).json
    settings = fen / "makeworth.toml"
    settings.write_text(settings.read_text().replace("[trade]", "[trade]\ncaution = 0.5"))
    careful = ask("evening", *prices).json
    assert careful["chance_purse"] > bold["chance_purse"]
    assert careful["profit"] < bold["profit"]


def test_terminal(ask):
    run = ask("evening", "--hours", "2", "--budget", "200 shell")
    assert run.code == 0, run.err
    assert "together" in run.out
    assert max(map(len, run.out.splitlines())) <= 80
    rest = ask("evening", "--budget", "1")
    assert "REST" in rest.out
    assert ask("evening", "--budget", "1", "--json").json["verdict"] == "rest"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, "--budget"),
        (("--budget", "6", "--hours", "0"), 2, "over 0, up to 24"),
        (("--budget", "6", "--hours", "nan"), 2, "over 0, up to 24"),
        (("--budget", "-6"), 1, "below zero"),
        (("--budget", "6 moons"), 1, "no rate leads from 'moons'"),
        (("--budget", "6", "--within", "0"), 2, "1 to 120 days"),
        (("--budget", "6", "--price", "blak wax=2"), 1, 'did you mean "black wax"'),
    ],
)
def test_refusals(ask, words, code, said):
    run = ask("evening", *words)
    assert run.code == code
    assert run.is_one_sentence()
    assert said in run.err


def test_a_file_at_fault_is_named_and_left_out(ask, fen):
    (fen / "routes" / "torn.toml").write_text("torn")
    answer = ask("evening", "--budget", "600", "--json").json
    assert answer["verdict"] == "work"
    assert any("torn is not compared" in each for each in answer["cautions"])


def test_no_routes(makeworth, fen):
    for file in (fen / "routes").glob("*.toml"):
        file.unlink()
    run = makeworth("advise", "evening", "--budget", "6", cwd=fen)
    assert run.code == 1
    assert run.is_one_sentence()
    assert "write routes" in run.err
