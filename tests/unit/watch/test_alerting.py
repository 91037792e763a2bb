"""Alerts of a workspace with prices, judged as its user would by looking at the stalls."""

from __future__ import annotations

from fractions import Fraction

import pytest
import time_machine

from advisor.tasks.alerting import alert_name, alerts_now
from advisor.tasks.importing import import_file
from advisor.tasks.starting import start_workspace
from advisor.tasks.telling import tell_alerts
from advisor.tasks.workspace import open_workspace

NOW = "2026-11-12T20:00:00Z"
GOODS = {"lantern frame": 2.4, "binding wax": 2.3, "etching salt": 0.95, "clear flux": 10.5}
GOODS |= {"lens setting": 35, "storm lantern": 560, "scrap glass": 0.8}


@pytest.fixture
def place_with(tmp_path):
    start_workspace(tmp_path / "fen", timezone="UTC")
    with (tmp_path / "fen" / "makeworth.toml").open("a") as settings:
        settings.write('[item."clear flux"]\nfamily = "fluxes"\n')
    number = iter(range(100))

    def make(alerts="", rows=()):
        folder = tmp_path / "fen"
        with (folder / "makeworth.toml").open("a") as settings:
            settings.write(alerts)
        place = open_workspace(str(folder))
        if rows:
            file = tmp_path / f"rows-{next(number)}.csv"
            file.write_text("\n".join(["at,item,price,side,qty,trader", *rows, ""]))
            import_file(place, file)
        return place

    with time_machine.travel(NOW, tick=False):
        yield make


def days_of_prices(last=12, **changed):
    """Two looks a day from 1 November on; items may be left out or cost something else."""
    goods = GOODS | {name.replace("_", " "): price for name, price in changed.items()}
    return [
        f"2026-11-{day:02}T{hour}:00Z,{item},{price},ask,20,"
        for day in range(1, last + 1)
        for hour in ("10", "19")
        for item, price in goods.items()
    ]


def one(place):
    (state,) = alerts_now(place)
    return state


@pytest.mark.parametrize(
    ("condition", "holds"),
    [
        ("below = 2.5", True),
        ("below = 2.3", False),
        ("above = 2.3", True),
        ("above = 2.5", False),
        ("stale_days = 0.5", False),
        ("stale_days = 0.04", True),
        ('moved = "5 %"', False),
    ],
)
def test_a_price_that_stands_at_two_and_four_tenths(place_with, condition, holds):
    alert = f'[[alert]]\nitem = "Frame"\n{condition}\n'
    assert one(place_with(alert, days_of_prices())).holds is holds


def test_a_level_that_moved_is_held_against_the_one_known_then(place_with):
    alert = '[[alert]]\nitem = "clear flux"\nmoved = "20 %"\nwithin_days = 4\n'
    rows = days_of_prices(last=8)
    rows += [f"2026-11-{day:02}T{hour}:00Z,clear flux,14,ask,20," for day in range(9, 13)
             for hour in (9, 12, 15, 18)]  # fmt: skip
    state = one(place_with(alert, rows))
    assert state.marks == {"up"}
    assert "from 10.5" in state.words


def test_an_offer_is_a_bargain_if_one_needs_it_and_screening_believes_it(place_with):
    alert = '[[alert]]\nitem = "clear flux"\nbargain = true\n'
    place = place_with(alert, days_of_prices())
    dear = one(place)
    place = place_with("", ["2026-11-12T19:30Z,clear flux,9.4,ask,5,Ada"])
    state = one(place)
    assert state.holds is True
    assert "5 at 9.4 shell from Ada" in state.words
    assert len(state.marks - dear.marks) == 1
    bait = place_with("", ["2026-11-12T19:40Z,clear flux,1.2,ask,5,Bea"])
    assert "Bea" not in str(one(bait))


def test_ones_own_offers_are_no_bargains(place_with, tmp_path):
    place = place_with('[[alert]]\nitem = "clear flux"\nbargain = true\n', days_of_prices())
    file = place.folder / "makeworth.toml"
    file.write_text(file.read_text().replace("[trade]\n", '[trade]\nstall = "Wren Hollow"\n'))
    place = place_with("", ["2026-11-12T19:30Z,clear flux,9.3,ask,5,wren hollow"])
    assert one(place).holds is False


def test_supplies_run_short_until_enough_is_logged_as_bought(place_with):
    from advisor.book.trades import Trade, add_trades

    alert = '[[alert]]\nroute = "storm-lantern"\npieces = 2\nshort = "20 %"\n'
    place = place_with(alert, days_of_prices())
    empty = one(place)
    assert {"lantern frame", "binding wax", "etching salt", "clear flux"} <= empty.marks
    with place.open_book() as store:
        begin = 1_793_000_000_000_000
        bought = [
            Trade(begin, "buy", item, qty=Fraction(5000), price=Fraction(1), money="shell")
            for item in ("lantern frame", "etching salt", "clear flux", "lens setting")
        ]
        add_trades(store, bought)
    assert one(place).marks == {"binding wax"}


def test_an_answer_that_turned_is_held_against_the_day_before(place_with):
    alert = '[[alert]]\npiece = "storm lantern"\nverdict = true\n'
    place = place_with(alert, days_of_prices(storm_lantern=300))
    assert one(place).words == "it is buy, as it was"
    told = tell_alerts(place)
    assert told.messages == ()
    rows = [f"2026-11-12T{hour}:00Z,storm lantern,1900,ask,3,T{hour}" for hour in range(12, 20)]
    with time_machine.travel("2026-11-16T20:00:00Z", tick=False):
        later = [row.replace("11-12", f"11-{day}") for day in (13, 14, 15, 16) for row in rows]
        place = place_with("", later)
        (message,) = tell_alerts(place).messages
        assert "it turned from buy to make: making saves" in message.words
        assert tell_alerts(place).messages == ()


def test_what_cannot_be_answered_is_told_in_words(place_with):
    alerts = (
        '[[alert]]\nitem = "moonstone"\nbelow = 3\n'
        '[[alert]]\nroute = "storm-lanternn"\nshort = 0.2\n'
        '[[alert]]\npiece = "moonstone"\nverdict = true\n'
    )
    states = alerts_now(place_with(alerts, days_of_prices()))
    assert [state.holds for state in states] == [None, None, None]
    assert 'did you mean "storm-lantern"?' in states[1].words
    assert "no route makes this piece" in states[2].words


def test_names_of_alerts_tell_conditions_apart(place_with):
    alerts = "".join(
        f'[[alert]]\nitem = "wax"\n{condition}\n'
        for condition in ("below = 2", "below = 2.5", 'below = "advice"', "above = 2",
                          "moved = 0.1", "stale_days = 2", "bargain = true")
    )  # fmt: skip
    names = [alert_name(alert) for alert in place_with(alerts).settings.alerts]
    assert len(set(names)) == 7
