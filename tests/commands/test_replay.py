"""makeworth replay on a small book, against a ledger kept by hand."""

from __future__ import annotations

import datetime as dt

import pytest

from advisor.tasks.replayed_day import ReplayQuestion
from advisor.tasks.replaying import advise_morning, replay
from advisor.tasks.workspace import open_workspace

SETTINGS = """money = "shell"
timezone = "UTC"
[trade]
sale_fee = "5 %"
[item."lantern"]
sells_per_day = 1
"""
ROUTE = """[route]
makes = "lantern"
start = "table"
[[step]]
name = "set"
from = "table"
to = "lantern"
uses = { frame = 2, wax = 1 }
"""
DAYS = 12
FRAME = [10.0, 10.2, 9.9, 10.1, 10.0, 10.3, 9.8, 10.0, 10.1, 10.2, 9.9, 10.0]
WAX = [5.0, 5.1, 4.9, 5.0, 5.2, 5.0, 4.8, 5.1, 5.0, 4.9, 5.0, 5.1]
LANTERN = [60.0, 61.0, 59.0, 60.5, 60.0, 59.5, 61.5, 60.0, 58.5, 60.0, 60.5, 59.0]
BAIT_DAY, BAIT = 6, 2.0
"""On the sixth day somebody asks 2 for a lantern, for show."""


def lines(frame=FRAME, wax=WAX, lantern=LANTERN, first=1):
    rows = ["at,item,price,money,side,qty"]
    for day, prices in enumerate(zip(frame, wax, lantern, strict=True), start=first):
        at = f"2026-09-{day:02}T18:00Z"
        for item, price in zip(("frame", "wax", "lantern"), prices, strict=True):
            rows.append(f"{at},{item},{price},shell,ask,500")
    return rows


@pytest.fixture
def fen(tmp_path, makeworth):
    for name in ("routes", "pools", "inbox", "reports"):
        (tmp_path / name).mkdir()
    (tmp_path / "makeworth.toml").write_text(SETTINGS)
    (tmp_path / "routes" / "lantern.toml").write_text(ROUTE)
    rows = [*lines(), f"2026-09-{BAIT_DAY:02}T18:01Z,lantern,{BAIT},shell,ask,1"]
    (tmp_path / "prices.csv").write_text("\n".join(rows) + "\n")
    assert makeworth("import", "prices.csv", cwd=tmp_path).code == 0
    return tmp_path


SPAN = ("--from", "2026-09-05", "--to", "2026-09-10", "--within", "2", "--pieces", "2")


def test_sums_equal_a_ledger_kept_by_hand(makeworth, fen):
    answer = makeworth("replay", *SPAN, "--json", cwd=fen).json
    mornings = range(5, 11)

    def price(series, day):
        return series[day - 1]

    # One lantern a day, made of 2 frames and 1 wax for about 25, or bought for about 60.
    made = {day: 2 * price(FRAME, day) + price(WAX, day) for day in mornings}
    plain = dict(made)
    plain[BAIT_DAY + 1] = price(LANTERN, BAIT_DAY + 1)  # who believes the bait goes to buy
    assert answer["craft"]["followed"] == pytest.approx(sum(made.values()))
    assert answer["craft"]["hindsight"] == pytest.approx(sum(made.values()))
    assert answer["craft"]["plain"] == pytest.approx(sum(plain.values()))
    assert (answer["craft"]["days_right"], answer["craft"]["days"]) == (6, 6)
    # Supplies for 2 lanterns, 4 frames and 2 wax, which is certain; two days to buy in, so
    # the last two mornings are not over yet. Nothing is over, so nothing is sold.
    settled = range(5, 9)
    plain_paid = sum(4 * price(FRAME, day) + 2 * price(WAX, day) for day in settled)
    best = 0.0
    for day in settled:
        for series, units in ((FRAME, 4), (WAX, 2)):
            least = min(price(series, day + later) for later in range(3))
            # who knows what comes buys one more where it can be sold for more in the end
            best += units * least - max(0.0, 0.95 * price(series, day + 2) - least)
    dearest = sum(
        units * max(price(series, day + later) for later in range(3))
        for day in settled
        for series, units in ((FRAME, 4), (WAX, 2))
    )
    assert answer["stock"]["settled"] == 8
    assert answer["stock"]["paid_plain"] == pytest.approx(plain_paid)
    assert answer["stock"]["paid_hindsight"] == pytest.approx(best)
    assert best - 1e-9 <= answer["stock"]["paid"] <= dearest + 1e-9
    # Two lanterns in two days, one a day. Habit: yesterday's cheapest ask, left standing; it
    # goes on days that are no cheaper. Nobody bids, so what is left brings nothing.
    habit = 0.0
    for day in range(5, 10):
        asked = BAIT if day - 1 == BAIT_DAY else price(LANTERN, day - 1)
        habit += sum(0.95 * asked for later in (0, 1) if price(LANTERN, day + later) >= asked)
    best = sum(0.95 * (price(LANTERN, day) + price(LANTERN, day + 1)) for day in range(5, 10))
    assert answer["sell"]["plain"] == pytest.approx(habit)
    assert answer["sell"]["hindsight"] == pytest.approx(best)
    assert answer["sell"]["followed"] <= best + 1e-9


def test_prices_of_later_days_have_no_influence(makeworth, fen):
    before = makeworth("replay", *SPAN, "--json", cwd=fen).json
    wild = "\n".join(lines([900.0] * 8, [0.01] * 8, [3.0] * 8, first=13))
    (fen / "later.csv").write_text(wild + "\n")
    assert makeworth("import", "later.csv", cwd=fen).code == 0
    assert makeworth("replay", *SPAN, "--json", cwd=fen).json == before
    place = open_workspace(str(fen))
    kept = replay(place, first="2026-09-05", last="2026-09-10", count=2, within=2)
    assert kept.worked_out == 0


def test_advice_of_a_morning_does_not_know_that_day(makeworth, fen):
    place, question = open_workspace(str(fen)), ReplayQuestion(("lantern",), 2, 2)
    morning = dt.date(2026, 9, 8)
    before = advise_morning(place, morning, question)
    wild = "\n".join(lines([900.0], [0.01], [3.0], first=8))
    (fen / "later.csv").write_text(wild.replace("18:00", "00:00") + "\n")
    assert makeworth("import", "later.csv", cwd=fen).code == 0
    assert advise_morning(place, morning, question) == before
    assert advise_morning(place, dt.date(2026, 9, 9), question) != before


def test_a_replay_that_was_stopped_goes_on_from_there(fen):
    place = open_workspace(str(fen))

    def stop(done, of):
        if done == 2:
            raise KeyboardInterrupt

    span = {"first": "2026-09-05", "last": "2026-09-10"}
    with pytest.raises(KeyboardInterrupt):
        replay(place, **span, on_day=stop)
    assert replay(place, **span).worked_out == 4
    assert replay(place, **span).worked_out == 0
    assert replay(place, first="2026-09-05", last="2026-09-11").worked_out == 1


def test_days_are_worked_out_anew_when_what_they_rest_on_changes(makeworth, fen):
    place, span = open_workspace(str(fen)), {"first": "2026-09-05", "last": "2026-09-07"}
    assert replay(place, **span).worked_out == 3
    (fen / "routes" / "lantern.toml").write_text(ROUTE.replace("frame = 2", "frame = 3"))
    assert replay(place, **span).worked_out == 3
    # A quote of the sixth is known on the morning of the seventh, and not before.
    assert makeworth("quote", "wax 5", "--at", "2026-09-06T20:00Z", cwd=fen).code == 0
    assert replay(place, **span).worked_out == 1


def test_what_a_person_reads_fits_80_columns_and_says_how_it_is_settled(makeworth, fen):
    run = makeworth("replay", *SPAN, cwd=fen)
    assert run.code == 0
    assert max(len(line) for line in run.out.splitlines()) <= 80
    for word in ("Forecasts:", "Make or buy", "Supplies", "Sales", "how it is settled", "habit"):
        assert word in run.out
    assert "6 times of 6" in " ".join(run.out.split())
    one = makeworth("replay", "--from", "2026-09-05", "--to", "2026-09-05", cwd=fen)
    assert "as good as hindsight 1 time of 1," in " ".join(one.out.split())


def test_a_piece_that_is_missing_is_told_why(makeworth, fen):
    """Nobody ever asks a price for a marsh lantern, though it can be made of the same."""
    other = ROUTE.replace('"lantern"', '"marsh lantern"')
    (fen / "routes" / "marsh.toml").write_text(other)
    answer = makeworth("replay", *SPAN, "--json", cwd=fen).json
    assert {each["piece"] for day in answer["by_day"] for each in day["craft"]} == {"lantern"}
    (said,) = (each for each in answer["cautions"] if "not in make or buy" in each)
    assert said.startswith("marsh lantern is not in make or buy: nobody is known to ask a price")


@pytest.mark.parametrize(
    ("last", "within", "said", "fits"),
    [
        # three mornings: with 7 days to go one needs 8 for supplies and 7 for sales
        ("07", 7, "a morning needs {} days of prices, and this replay has 3", 1),
        ("10", 9, "a morning needs {} days of prices, and this replay has 6", 3),
    ],
)
def test_a_range_too_short_names_a_smaller_within(makeworth, fen, last, within, said, fits):
    span = ("--from", "2026-09-05", "--to", f"2026-09-{last}", "--json", "--within")
    cautions = makeworth("replay", *span, within, cwd=fen).json["cautions"]
    for name, needs in (("supplies", within + 1), ("sales", within)):
        (told,) = (each for each in cautions if each.startswith(f"no {name} could be settled"))
        assert said.format(needs) in told
        assert f"--within {fits}, or" in told
    shorter = makeworth("replay", *span, fits, cwd=fen).json
    assert shorter["stock"]["settled"] > 0
    assert shorter["sell"]["settled"] > 0
    assert not any("could be settled" in each for each in shorter["cautions"])


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("--from", "2026-09-09", "--to", "2026-09-05"), 2),
        (("--to", "2090-01-01"), 2),
        (("--from", "2020-01-01", "--to", "2026-09-05"), 2),
        (("--within", "0"), 2),
        (("--pieces", "0"), 2),
        (("--piece", "moon"), 1),
        (("--piece", "wax"), 1),
        (("--from", "soon"), 1),
    ],
)
def test_what_cannot_be_meant_is_one_sentence(makeworth, fen, words, code):
    run = makeworth("replay", *words, cwd=fen)
    assert run.code == code
    assert run.is_one_sentence()


def test_an_empty_book_has_nothing_to_replay(makeworth, tmp_path):
    assert (
        makeworth("start", "new", "--money", "shell", "--timezone", "UTC", cwd=tmp_path).code == 0
    )
    run = makeworth("replay", cwd=tmp_path / "new")
    assert run.code == 1
    assert run.is_one_sentence()
