"""`makeworth advise service`: its JSON, its terminal face, its line to put up, its refusals."""

from __future__ import annotations

import shutil

import pytest

from advisor.cli.main import main

POLISH = """
[route]
makes = "polish"
start = "customer's lantern"
finish = "polished lantern"

[[step]]
name = "rub"
from = "customer's lantern"
uses = { "black wax" = 1 }
minutes = 2
[step.outcomes]
"polished lantern" = "1 in 10"
"scratched lantern" = "10 %"
"customer's lantern" = "rest"

[[step]]
name = "make good"
from = "scratched lantern"
fee = "5 shell"
to = "customer's lantern"
"""
BREAKING = """
[route]
makes = "fusing"
start = "customer's lens"

[[step]]
name = "fuse"
from = "customer's lens"
uses = { "black wax" = 1 }
[step.outcomes]
"fusing" = "1 in 4"
"broken lens" = "5 %"
"customer's lens" = "rest"
"""
CERTAIN = """
[route]
makes = "setting"
start = "lens"

[[step]]
name = "set"
from = "lens"
uses = { "black wax" = 2 }
to = "setting"
"""
NEEDING = """
[route]
makes = "bright lantern"
start = "table"

[[step]]
name = "finish it"
from = "table"
uses = { "polish" = 1 }
to = "bright lantern"
"""
SETTINGS = """
money = "shell"
timezone = "UTC"
[trade]
sale_fee = "5 %"
hour_value = 6
[item.polish]
family = "services"
"""
TERM_KEYS = {"kind", "floor", "price", "loss_chance", "profit_per_hour"}


@pytest.fixture(scope="module")
def first_bench(tmp_path_factory):
    folder = tmp_path_factory.mktemp("service") / "fen"
    assert main(["start", str(folder), "--timezone", "UTC"]) == 0
    for file in (folder / "routes").glob("*.toml"):
        file.unlink()
    for name, text in (("polish", POLISH), ("fusing", BREAKING), ("setting", CERTAIN)):
        (folder / "routes" / f"{name}.toml").write_text(text)
    (folder / "makeworth.toml").write_text(SETTINGS)
    for words in (
        ("black wax", "1.5", "--qty", "100"),
        ("polish", "60"),
        ("polish", "62"),
        ("polish", "64", "--trader", "Tansy Rook"),
    ):
        assert main(["quote", *words, "--at", "2026-10-01T10:00Z", "-w", str(folder)]) == 0
    return folder


@pytest.fixture
def bench(first_bench, tmp_path):
    return shutil.copytree(first_bench, tmp_path / "fen")


@pytest.fixture
def ask(makeworth, bench):
    def run(route, *words):
        return makeworth(
            "advise", "service", route, "--as-of", "2026-10-01T12:00Z", *words, cwd=bench
        )

    return run


def test_json_keeps_the_contract(ask):
    answer = ask("polish", "--orders", "3", "--json").json
    assert (answer["route"], answer["orders"], answer["supplies"]) == ("polish", 3, "mine")
    assert [each["kind"] for each in answer["terms"]] == ["fixed", "per try", "on success"]
    assert all(set(each) >= TERM_KEYS for each in answer["terms"])
    assert set(answer["cost"]) >= {"mean", "sd", "quantiles", "shortfall_95"}
    assert [each["orders"] for each in answer["by_orders"]] == [1, 2, 3, 5, 10, 20]
    assert answer["going_rate"].keys() == {"level", "sd"}
    assert answer["verdict"] == "offer"
    assert answer["reasons"]
    assert answer["cautions"]


def test_floor_by_hand(ask):
    """Ten rubs on average, each 1.5 shell of wax and 2 minutes at 6 an hour; one scratch of
    5 shell: 10 * (1.5 + 0.2) + 5 = 22, and the sale fee of 5 % on top."""
    fixed, by_try, _ = ask("polish", "--json").json["terms"]
    assert fixed["floor"] == pytest.approx(22 / 0.95, rel=1e-6)
    assert by_try["floor"] == pytest.approx(2.2 / 0.95, rel=1e-6)
    assert fixed["profit_per_hour"] == pytest.approx(
        (0.95 * fixed["price"] - 22) / (20 / 60) + 6, rel=1e-6
    )


def test_customers_supplies_leave_only_the_time(ask):
    """Twenty minutes at 6 shell an hour: 2 shell."""
    answer = ask("polish", "--supplies", "customer", "--json").json
    assert answer["terms"][0]["floor"] == pytest.approx(2 / 0.95, rel=1e-6)
    assert answer["terms"][0]["price"] < ask("polish", "--json").json["terms"][0]["price"]


def test_caution_pays_for_the_tail_less_so_for_many(ask):
    one, many = (
        {each["orders"]: each for each in ask("polish", *words, "--json").json["by_orders"]}
        for words in ((), ("--caution", "0.3"))
    )
    assert many[1]["floor"] > many[5]["floor"] > many[20]["floor"] > one[20]["floor"]


def test_many_orders_do_not_make_supplies_dearer(ask, bench, makeworth):
    """The mean floor stays 22 shell an order for two hundred orders, though beyond the first
    hundred units the wax that stands costs more."""
    words = ("black wax", "4", "--qty", "900", "--trader", "Hob Lathe")
    run = makeworth("quote", *words, "--at", "2026-10-01T10:00Z", cwd=bench)
    assert run.code == 0, run.err
    answer = ask("polish", "--orders", "200", "--json").json
    assert answer["terms"][0]["floor"] == pytest.approx(22 / 0.95, rel=1e-6)
    assert any("one order at a time" in each for each in answer["cautions"])


def test_logged_tries_count_unless_told_otherwise(ask, bench, makeworth):
    """Thirty rubs that did not work make it look harder than it is stated to be."""
    log = ("polish", "rub", "customer's lantern", "--count", "30", "--at", "2026-09-30T10:00Z")
    run = makeworth("log", "try", *log, cwd=bench)
    assert run.code == 0, run.err
    learned, stated = (
        ask("polish", *words, "--json").json["terms"][0]["floor"]
        for words in ((), ("--stated-odds",))
    )
    assert learned > stated
    assert stated == pytest.approx(22 / 0.95, rel=1e-6)


def test_offers_taken_and_declined_move_the_price(ask, bench, makeworth):
    """Ten declined at the going rate of about 62: ask less. Taken back, as before. Ten taken
    well above it: ask more. None of them is an order to work on, or money earned."""
    before = ask("polish", "--json").json

    def log(verb, price):
        words = ("order", verb, "Hob Lathe", "polish", "fixed", price, "--at", "2026-10-01T11:00Z")
        run = makeworth("log", *words, "--json", cwd=bench)
        assert run.code == 0, run.err
        return run.json["entry"]

    entries = [log("declined", "62") for _ in range(10)]
    declined = ask("polish", "--json").json
    assert declined["terms"][0]["price"] < 0.95 * before["terms"][0]["price"]
    assert (declined["customers"]["offers"], declined["customers"]["taken"]) == (10, 0)
    assert declined["customers"]["half_accept"] < 62
    listed = makeworth("log", "order", "--list", "--json", cwd=bench).json
    assert [each["declined"] for each in listed] == [True] * 10
    ledger = makeworth("ledger", "--as-of", "2026-10-02", "--json", cwd=bench).json
    assert ledger["earned"] == 0
    for entry in entries:
        assert makeworth("log", "order", "--undo", str(entry), cwd=bench).code == 0
    assert ask("polish", "--json").json["terms"] == before["terms"]
    for _ in range(10):
        log("new", "70")
    taken = ask("polish", "--json").json
    assert taken["terms"][0]["price"] > 1.05 * before["terms"][0]["price"]


def test_declined_offers_leave_the_book_whole(bench, makeworth, tmp_path):
    words = ("order", "declined", "Hob Lathe", "polish", "per try", "7")
    assert makeworth("log", *words, "--at", "2026-10-01T11:00Z", cwd=bench).code == 0
    out = tmp_path / "copy"
    assert makeworth("export", out, cwd=bench).code == 0
    fresh = tmp_path / "fresh"
    assert makeworth("start", fresh, "--timezone", "UTC", cwd=tmp_path).code == 0
    run = makeworth("import", out, cwd=fresh)
    assert run.code == 0, run.err
    listed = makeworth("log", "order", "--list", "--json", cwd=fresh).json
    assert [(each["customer"], each["declined"]) for each in listed] == [("Hob Lathe", True)]


def test_what_a_failure_costs_the_customer(ask):
    """On success only the deposit; per try all the tries agreed on; fixed nothing."""
    answer = ask("polish", "--deposit", "4", "--tries", "10", "--json").json
    fixed, by_try, success = answer["terms"]
    assert fixed["pays_if_failed"] == 0
    assert by_try["pays_if_failed"] == pytest.approx(10 * by_try["price"])
    assert success["pays_if_failed"] == 4


def test_verdicts(ask, bench):
    assert ask("polish", "--price", "polish=12", "--json").json["verdict"] == "decline"
    wanted = ask("polish", "--price", "polish=12", "--need", "--json").json
    assert wanted["verdict"] == "buy the service"
    (bench / "routes" / "bright.toml").write_text(NEEDING)
    needed = ask("polish", "--price", "polish=12", "--json").json
    assert needed["verdict"] == "buy the service"


def test_terminal_and_post(ask):
    run = ask("polish", "--deposit", "4 shell")
    assert run.code == 0, run.err
    assert "OFFER it" in run.out
    assert "I keep the deposit of 4 shell" in run.out
    assert max(map(len, run.out.splitlines())) <= 80
    line = ask("polish", "--post").out
    assert line.startswith("Service: polish, ")
    assert len(line.splitlines()) == 1
    assert "no post" in ask("polish", "--price", "polish=12", "--post").out


def test_no_going_rate_is_null_and_said(ask):
    answer = ask("setting", "--json").json
    assert answer["going_rate"] is None
    assert answer["terms"][0]["price"] == pytest.approx(answer["terms"][0]["floor"])
    assert any("No going rate" in each for each in answer["cautions"])
    assert any("only fixed terms" in each for each in answer["cautions"])


def test_lost_piece_is_paid_for_and_agreed_on(ask):
    """Lost at one rub in ten, as likely as done: half the orders. By
    hand: 5 rubs of 1.7 and half of 30, for half a piece: (8.5 + 15) / 0.5 = 47."""
    answer = ask("polish", "--lost", "scratched lantern=30", "--json").json
    assert answer["lost"][0]["chance"] == pytest.approx(0.5)
    assert answer["terms"][0]["floor"] == pytest.approx(47 / 0.95, rel=1e-6)
    assert any("I pay you 30 shell" in each for each in answer["agree"])


def test_a_route_that_ends_where_the_piece_is_lost(ask, bench):
    """Lost 1 time for 5 made, one of 6 orders: 10/3 tries of 1.5 and a sixth of 30 for five
    sixths of a piece, by hand (5 + 5) / (5 / 6) = 12. At the customer's risk: 5 / (5 / 6) = 6."""
    answer = ask("fusing", "--lost", "broken lens=30", "--json").json
    assert answer["lost"][0]["chance"] == pytest.approx(1 / 6)
    assert answer["cost"]["mean"] == pytest.approx(10)
    assert answer["terms"][0]["floor"] == pytest.approx(12 / 0.95, rel=1e-6)
    assert "a lost piece is paid for with 30 shell" in answer["post"]
    torn = (bench / "routes" / "fusing.toml").read_text()
    torn = torn.replace('"broken lens" = "5 %"', '"broken lens" = "3 %"\n"burnt wick" = "2 %"')
    (bench / "routes" / "fusing.toml").write_text(torn)
    both = ask("fusing", "--lost", "broken lens=30", "--lost", "burnt wick=0", "--json").json
    assert [each["chance"] for each in both["lost"]] == pytest.approx([1 / 10, 1 / 15])
    # 5 for the tries and a tenth of 30, for five sixths of a piece
    assert both["terms"][0]["floor"] == pytest.approx((5 + 3) / (5 / 6) / 0.95, rel=1e-6)
    assert "lost at 'burnt wick', that is your risk" in both["agree"][0]
    only = ask("fusing", "--lost", "broken lens=30")
    assert only.code == 1
    assert '--lost "burnt wick=120"' in only.err
    (bench / "routes" / "fusing.toml").write_text(BREAKING)
    theirs = ask("fusing", "--lost", "broken lens=0", "--json").json
    assert theirs["terms"][0]["floor"] == pytest.approx(6 / 0.95, rel=1e-6)
    assert "your risk" in theirs["post"]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["polis"], 1, 'did you mean "polish"'),
        (["polish", "--orders", "0"], 2, "1 to 1000"),
        (["polish", "--supplies", "theirs"], 2, "mine nor customer"),
        (["polish", "--principle", "luck"], 2, "one of worst, sd, exponential"),
        (["polish", "--caution", "2"], 2, "0 to 1"),
        (["polish", "--tries", "0"], 2, "1 to 10000"),
        (["polish", "--price", "blak wax=2"], 1, 'did you mean "black wax"'),
        (["polish", "--deposit", "-4"], 1, "below zero"),
        (["polish", "--deposit", "4 moons"], 1, "no rate leads from 'moons'"),
        (["polish", "--lost", "scratched lantern"], 2, "--lost"),
        (["polish", "--lost", "a=1", "--lost", "A=2"], 2, "names 'A' twice"),
        (["polish", "--lost", "scratched lanter=3"], 1, 'did you mean "scratched lantern"'),
        (["fusing"], 1, '--lost "broken lens=120"'),
        (["fusing", "--lost", "customer's lens=3"], 1, '--lost "broken lens=120"'),
    ],
)
def test_refusals(ask, words, code, said):
    run = ask(*words)
    assert run.code == code
    assert run.is_one_sentence()
    assert said in run.err


def test_who_brings_supplies_and_pays_fees_is_said(ask):
    """Polish takes a fee of 5 shell, setting takes none."""
    mine = ask("polish", "--json").json["agree"]
    theirs = ask("polish", "--supplies", "customer", "--json").json["agree"]
    assert len(mine) == len(theirs) == 3
    assert all("I bring the supplies and pay the fees." in each for each in mine)
    assert all("You bring the supplies and pay the fees." in each for each in theirs)
    (free,) = ask("setting", "--price", "setting=40", "--json").json["agree"]
    assert free.endswith("I bring the supplies.")


def test_what_is_compared_with_the_customers_supplies(ask):
    """Ten rubs of 1.5 shell and one scratch of 5 on average: 20 shell of supplies and fees."""
    said = ask("polish", "--supplies", "customer", "--price", "polish=62", "--json").json["reasons"]
    (compared,) = (each for each in said if each.startswith("Compared is the work alone"))
    assert "include supplies and fees, so 62 less 20 leaves 42 shell" in compared
    assert not any("work alone" in each for each in ask("polish", "--json").json["reasons"])


def test_without_caution_one_line_instead_of_equal_rows(ask):
    shown = ask("polish", "--caution", "0", "--orders", "3").out
    assert "orders together" not in shown
    assert "the price does not fall with the number of orders" in " ".join(shown.split())
    assert "orders together" in ask("polish", "--caution", "0.3").out


def test_quotes_not_believed_are_said(ask, bench, makeworth):
    """One ask at a tenth of the others: said with the answer, and beside the line to put up."""
    assert ask("polish", "--post").err == "note: One quote only: black wax.\n"
    for price, hour in (("6", "10"), ("63", "11")):
        words = ("quote", "polish", price, "--trader", "Crake", "--at", f"2026-10-01T{hour}:30Z")
        assert makeworth(*words, cwd=bench).code == 0
    assert "! Quotes not believed, see prices ITEM --quotes: polish (1)." in ask("polish").out
    post = ask("polish", "--post")
    assert post.out.startswith("Service: polish")
    assert "note: Quotes not believed" in post.err
