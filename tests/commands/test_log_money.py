"""`makeworth log buy`, `sale` and `order`: written down once, exact, taken back whole."""

from __future__ import annotations

import pytest

AT = ("--at", "2026-11-02T20:30")
AS_OF = ("--as-of", "2026-11-05")


@pytest.fixture
def stall(workspace, makeworth):
    for line in ("lantern frame 2.4 x60", "storm lantern 560", "crown 20"):
        run = makeworth("quote", line, "--at", "2026-11-02T19:00", cwd=workspace)
        assert run.code == 0, run.err
    return workspace


@pytest.fixture
def log(stall, makeworth):
    def run(*words):
        found = makeworth("log", *words, "--json", cwd=stall)
        assert found.code == 0, found.err
        return found.json

    return run


@pytest.fixture
def deals(stall, makeworth):
    def read(item):
        run = makeworth("prices", item, "--quotes", "--json", *AS_OF, cwd=stall)
        assert run.code == 0, run.err
        return [each for each in run.json["quotes"] if each["side"] == "deal"]

    return read


@pytest.fixture
def ledger(stall, makeworth):
    def read(*words):
        run = makeworth("ledger", *AS_OF, *words, "--json", cwd=stall)
        assert run.code == 0, run.err
        return run.json

    return read


def test_a_purchase_is_exact_and_feeds_the_price_book(log, deals):
    said = log("buy", "Lantern  Frame", "60", "7/3", "--trader", "Wren", *AT)
    [trade] = said["trades"]
    assert (trade["item"], trade["qty"], trade["price"], trade["fee"]) == (
        "lantern frame", "60", "7/3", "0",
    )  # fmt: skip
    [deal] = deals("lantern frame")
    assert (deal["qty"], deal["trader"], deal["at"]) == (60, "Wren", "2026-11-02T20:30:00Z")
    assert deal["value"] == pytest.approx(7 / 3)


def test_a_sale_loses_the_fee_of_the_settings_or_its_own(log):
    fees = [("500", ()), ("500", ("--fee", "2 %")), ("500", ("--fee", "7.5 shell")),
            ("500", ("--fee", "0"))]  # fmt: skip
    found = [
        log("sale", "storm lantern", "2", price, *fee)["trades"][0]["fee"] for price, fee in fees
    ]
    assert found == ["50", "20", "7.5", "0"]


def test_a_sale_of_more_than_the_log_has_in_stock_says_so(log, stall, makeworth):
    def sell(item, units, *words):
        return makeworth("log", "sale", item, units, "500", *words, cwd=stall).err

    log("buy", "storm lantern", "1", "450", *AT)
    # Before the purchase nothing is there, and one of five is after it.
    early = sell("storm lantern", "1", "--at", "2026-11-02T20:00")
    assert "you have none in stock by the log; 1 counts at the price of its time" in early
    makeworth("log", "sale", "--undo", "2", cwd=stall)
    assert sell("storm lantern", "1", "--at", "2026-11-02T21:00") == ""
    makeworth("log", "sale", "--undo", "3", cwd=stall)
    said = sell("storm lantern", "5")
    assert "you have 1 in stock by the log; 4 count at the price of their time" in said
    log("buy", "lantern frame", "1", "0.1 crown", *AT)
    assert sell("crown", "1") == ""  # a money that one trades in is no stock


def test_the_list_shows_what_was_traded(log, stall, makeworth):
    makeworth("log", "buy", "lantern frame", "60", "7/3", "--trader", "Wren", *AT, cwd=stall)
    (stall / "two.csv").write_text("item,qty,price\nlantern frame,3,2.5\nstorm lantern,1,450\n")
    makeworth("log", "buy", "--csv", "two.csv", cwd=stall)
    many = "".join(f"lantern frame,{units},2\n" for units in range(1, 12))
    (stall / "many.csv").write_text("item,qty,price\n" + many)
    makeworth("log", "buy", "--csv", "many.csv", cwd=stall)
    makeworth("log", "sale", "storm lantern", "1", "500", "--trader", "Ash", *AT, cwd=stall)
    makeworth("log", "sale", "--undo", "4", cwd=stall)
    run = makeworth("log", "sale", "--list", cwd=stall)
    assert all(len(line) <= 80 for line in run.out.splitlines())
    said = [" ".join(line.split()) for line in run.out.splitlines()]
    assert "1 2026-11-02 20:30 bought lantern frame 60 7/3 shell Wren" in said
    assert sum(line.startswith("2 ") for line in said) == 2  # both trades of the file
    assert any("11 trades lantern frame many.csv" in line for line in said)
    assert any("sold, taken storm" in line and "500 shell Ash" in line for line in said)
    listed = log("buy", "--list")
    assert [len(each["details"]) for each in listed] == [1, 0, 2, 1]
    assert listed[-1]["details"][0]["price"] == "7/3"


def test_an_offer_declined_has_a_number_of_its_own(log, stall, makeworth):
    words = ("storm-lantern", "per try", "3")
    numbers = [
        log("order", verb, "Fern", *words)["order"]["order"] for verb in ("new", "declined", "new")
    ]
    assert numbers == [1, 2, 3]
    out = makeworth("log", "order", "--list", cwd=stall).out
    rows = {line.split()[0]: line.split()[-1] for line in out.splitlines()[1:] if "2026" in line}
    assert rows == {"1": "open", "2": "declined", "3": "open"}
    run = makeworth("log", "order", "done", "2", "--tries", "3", cwd=stall)
    assert run.is_one_sentence() and "2 is an offer that was declined" in run.err
    assert log("order", "--undo", "2")["what"] == "offer 2, which was declined"


def test_undo_takes_the_deal_back_too(log, deals, ledger):
    before = ledger()
    log("buy", "lantern frame", "60", "2.4", *AT)
    assert len(deals("lantern frame")) == 1
    assert log("buy", "--undo", "1") == {"undone": 1, "trades": 1}
    assert deals("lantern frame") == []
    assert ledger() == before
    assert log("sale", "--list")[0]["undone"] is not None


def test_a_deal_that_came_in_another_way_too_counts_once_and_stays(log, deals, stall, makeworth):
    words = ("lantern frame", "2.4", "--qty", "60", "--side", "deal", "--trader", "Wren", *AT)
    assert makeworth("quote", *words, cwd=stall).code == 0
    log("buy", "lantern frame", "60", "2.4", "--trader", "Wren", *AT)
    assert len(deals("lantern frame")) == 1
    log("buy", "--undo", "1")
    assert len(deals("lantern frame")) == 1


def test_a_deal_seen_again_after_the_log_stays_when_the_log_is_taken_back(
    log, deals, stall, makeworth
):
    log("buy", "lantern frame", "60", "2.4", *AT)
    words = ("lantern frame", "2.4", "--qty", "60", "--side", "deal", *AT)
    assert makeworth("quote", *words, cwd=stall).code == 0
    log("buy", "--undo", "1")
    assert len(deals("lantern frame")) == 1


def test_a_trade_that_came_to_nothing_is_no_deal(log, deals):
    log("buy", "lantern frame", "60", "2.4", "--broken", *AT)
    assert deals("lantern frame") == []


def test_a_file_counts_once_and_again_after_undo(log, stall, ledger, deals):
    file = stall / "night.csv"
    file.write_text(
        "at,item,qty,price,money,trader\r\n"
        "2026-11-02 20:00,lantern frame,10,2.5,,Wren\r\n"
        "2026-11-02 20:10,lantern frame,10,0.1,crown,\r\n"
    )
    assert log("buy", "--csv", file)["entry"] == 1
    assert log("buy", "--csv", file)["known"] == 1
    assert ledger()["spent"] == pytest.approx(25 + 20)
    log("buy", "--undo", "1")
    assert log("buy", "--csv", file)["entry"] == 2
    assert len(deals("lantern frame")) == 2


def test_the_book_goes_out_and_comes_back(log, ledger, stall, makeworth, tmp_path):
    log("order", "new", "Fern", "storm-lantern", "fixed", "40", *AT)
    log("buy", "lantern frame", "60", "0.12 crown", "--order", "1", "--trader", "Wren", *AT)
    log("order", "done", "1", "--at", "2026-11-03")
    whole = ledger("--by", "order")
    assert makeworth("export", tmp_path / "out", cwd=stall).code == 0
    assert makeworth("start", tmp_path / "new", "--timezone", "UTC", cwd=tmp_path).code == 0
    for _ in range(2):
        assert makeworth("import", tmp_path / "out", cwd=tmp_path / "new").code == 0
    run = makeworth("ledger", "--by", "order", *AS_OF, "--json", cwd=tmp_path / "new")
    assert run.json == whole
    assert makeworth("log", "buy", "--undo", "2", cwd=tmp_path / "new").code == 0
    words = ("prices", "lantern frame", "--quotes", "--json", *AS_OF)
    quotes = makeworth(*words, cwd=tmp_path / "new").json["quotes"]
    assert [each["side"] for each in quotes] == ["ask"]


@pytest.mark.parametrize(
    ("terms", "end", "paid"),
    [
        (("fixed", "40"), ("done", "1"), "80"),
        (("fixed", "40"), ("failed", "1"), "0"),
        (("fixed", "40"), ("failed", "1", "--paid", "15"), "15"),
        (("on success", "90"), ("done", "1", "--delivered", "1"), "90"),
        (("on success", "90"), ("failed", "1"), "0"),
        (("per try", "7/3"), ("failed", "1", "--tries", "12"), "28"),
        (("per try", "7/3"), ("broken", "1"), "0"),
    ],
)
def test_what_an_order_brings(log, terms, end, paid):
    log("order", "new", "Fern", "storm-lantern", *terms, "--pieces", "2", *AT)
    said = log("order", *end, "--fee", "0")
    assert said["order"]["end"]["paid"] == paid
    assert said["order"]["end"]["came"] == end[0]


def test_an_order_is_taken_back_after_its_end(log, stall, makeworth):
    log("order", "new", "Fern", "storm-lantern", "fixed", "40", *AT)
    log("order", "done", "1")
    run = makeworth("log", "order", "--undo", "1", cwd=stall)
    assert run.code == 1
    assert "entry 2 speaks of order 1" in run.err
    assert log("order", "--undo", "2")["what"] == "the end of order 1 (done)"
    assert log("order", "--list")[0]["end"] is None
    log("order", "--undo", "1")
    assert log("order", "--list") == []


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("buy", "lantern fraem", "2", "3"), 1, 'did you mean "lantern frame"?'),
        (("buy", "lantern frame", "0", "3"), 1, "a number over 0"),
        (("buy", "lantern frame", "-2", "3"), 2, "no such option"),
        (("buy", "lantern frame", "two", "3"), 1, "'two'"),
        (("buy", "lantern frame", "2", "cheap"), 1, "no price"),
        (("buy", "lantern frame", "2", "3 florin"), 1, "no rate leads from 'florin'"),
        (("buy", "lantern frame", "2", "3 crown", "--money", "shell"), 1, "'crown'"),
        (("buy", "shell", "2", "3"), 1, "priced in itself"),
        (("buy", "lantern frame", "2"), 2, "a purchase is an item"),
        (("buy", "lantern frame", "2", "3", "--order", "9"), 1, "no order 9"),
        (("buy", "lantern frame", "2", "3", "--order", "x"), 1, "no number of an order"),
        (("buy", "lantern frame", "2", "3", "--route", "strom-lantern"), 1, "did you mean"),
        (("buy", "lantern frame", "2", "3", "--at", "03/04/2026"), 1, "could be"),
        (("buy", "lantern frame", "2", "3", "--trader", " "), 1, "trader"),
        (("buy", "lantern frame", "2", "3", "--fee", "1"), 2, "no such option"),
        (("buy", "--undo", "7"), 1, "no entry 7"),
        (("buy", "--undo", "7", "--list"), 2, "do not go together"),
        (("buy", "--undo", "7", "--at", "2026-11-02"), 2, "--at says nothing"),
        (("buy", "--csv", "none.csv"), 1, "none.csv"),
        (("sale", "storm lantern", "1", "500", "--fee", "501"), 1, "more than the sale"),
        (("sale", "storm lantern", "1", "500", "--fee", "101 %"), 1, "more than the whole"),
        (("sale", "storm lantern", "1", "500", "--fee", "2 crown"), 1, "'crown'"),
        (("sale", "storm lantern", "1", "0"), 1, "zero"),
        (("sale", "storm lantern", "1e13", "2"), 1, "out of range"),
        (("sale", "--undo", "x"), 2, "'--undo'"),
        (("order",), 2, "new, declined, done, failed or broken"),
        (("order", "old", "1"), 2, "new, declined, done, failed or broken"),
        (("order", "new", "Fern", "storm-lantern", "fixed"), 2, "not what 'new' needs"),
        (("order", "new", "Fern", "strom-lantern", "fixed", "4"), 1, "did you mean"),
        (("order", "new", "Fern", "storm-lantern", "fixd", "4"), 2, 'did you mean "fixed"?'),
        (("order", "new", "Fern", "storm-lantern", "fixed", "0"), 1, "zero"),
        (("order", "new", "Fern", "storm-lantern", "fixed", "4", "--pieces", "0"), 2, "--pieces"),
        (("order", "new", "Fern", "storm-lantern", "fixed", "4", "--supplies", "x"), 2, "supplies"),
        (("order", "new", "Fern", "storm-lantern", "fixed", "4", "--tries", "2"), 2, "--tries"),
        (("order", "done", "5"), 1, "no order 5"),
        (("order", "done", "Fern"), 2, "no number of an order"),
        (("order", "--undo", "5"), 1, "no entry 5"),
    ],
)
def test_wrong_input_is_one_sentence(stall, makeworth, words, code, said):
    run = makeworth("log", *words, cwd=stall)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_an_order_ends_once_and_not_before_it_began(log, stall, makeworth):
    log("order", "new", "Fern", "storm-lantern", "per try", "4", *AT)
    for words, said in (
        (("done", "1"), "--tries"),
        (("done", "1", "--tries", "3", "--at", "2026-11-01"), "not begun"),
        (("done", "1", "--delivered", "2", "--tries", "3"), "is for 1"),
        (("done", "1", "--paid", "3 crown"), "'crown'"),
    ):
        run = makeworth("log", "order", *words, cwd=stall)
        assert run.code == 1, run.err
        assert said in run.err
    log("order", "done", "1", "--tries", "3")
    run = makeworth("log", "order", "done", "1", "--tries", "3", cwd=stall)
    assert "has ended" in run.err


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no column"),
        ("item,qty,price\n", "no trade"),
        ("item,qty,prcie\n", 'did you mean "price"?'),
        ("item,qty,price,price\n", "twice"),
        ("item,qty\nlantern frame,2\n", "'price'"),
        ("item,qty,price\nlantern frame,2\n", "line 2"),
        ("item,qty,price\nlantern frame,2,3\nlantern frame,x,3\n", "line 3"),
        ("item,qty,price,money\nlantern frame,2,3,florin\n", "florin"),
        ("item,qty,price,fee\nlantern frame,2,3,1\n", "'fee'"),
        ('item,qty,price\n"lantern frame,2,3\n', "CSV"),
        ("item,qty,price\nlantern fr\udcff,2,3\n", "UTF-8"),
    ],
)
def test_a_wrong_file_is_refused_whole(stall, makeworth, log, deals, text, said):
    file = stall / "night.csv"
    file.write_bytes(text.encode("utf-8", "surrogateescape"))
    run = makeworth("log", "buy", "--csv", file, cwd=stall)
    assert run.code == 1, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err
    assert log("buy", "--list") == []
    assert deals("lantern frame") == []
