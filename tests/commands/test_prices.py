"""`makeworth prices`: the contract of its JSON, its terminal face, its refusals."""

from __future__ import annotations

import pytest

LEVEL_KEYS = {"level", "sd", "low_95", "high_95"}
ITEM_KEYS = {
    *("item", "family", "ask", "bid", "sale", "quotes", "screened", "newest"),
    *("trend_per_day", "day_of_season", "forecast", "sale_forecast"),
}
QUOTE_KEYS = {
    *("id", "at", "item", "price", "money", "value", "side", "qty", "trader"),
    *("source", "note", "batch", "screened"),
}


@pytest.fixture
def quoted(workspace, makeworth):
    for words in (
        ("lantern frame", "2.4", "--qty", "60", "--at", "2026-10-01T10:00Z"),
        ("lantern frame", "2.1", "--side", "bid", "--at", "2026-10-01T10:00Z"),
        ("binding wax", "7/3", "--at", "2026-10-01T10:00Z"),
    ):
        assert makeworth("quote", *words, cwd=workspace).code == 0
    return workspace


def test_json_keeps_the_contract(quoted, makeworth):
    answer = makeworth("prices", "--json", "--as-of", "2026-10-01", cwd=quoted).json
    assert answer["money"] == "shell"
    assert answer["as_of"].endswith("Z")
    frame = next(each for each in answer["items"] if each["item"] == "lantern frame")
    assert set(frame) >= ITEM_KEYS
    assert set(frame["ask"]) >= LEVEL_KEYS
    assert frame["ask"]["level"] == pytest.approx(2.4)
    assert frame["bid"]["level"] == pytest.approx(2.1 * 0.95, rel=0.06)
    assert frame["newest"] == "2026-10-01T10:00:00Z"
    assert [each["days"] for each in frame["forecast"]] == [1, 3, 7, 14]


def test_one_item_by_any_spelling(quoted, makeworth):
    answer = makeworth("prices", "Binding  WAX", "--json", "--days", "2", cwd=quoted).json
    (wax,) = answer["items"]
    assert wax["ask"]["level"] == pytest.approx(7 / 3)
    assert [each["days"] for each in wax["forecast"]] == [2]


def test_quotes_are_listed_as_typed(quoted, makeworth):
    answer = makeworth("prices", "binding wax", "--quotes", "--json", cwd=quoted).json
    (quote,) = answer["quotes"]
    assert set(quote) >= QUOTE_KEYS
    assert quote["price_as_typed"] == "7/3"
    assert quote["value"] == pytest.approx(7 / 3)
    assert quote["screened"] is None


def test_as_of_never_sees_later_quotes(quoted, makeworth):
    makeworth("quote", "lantern frame", "9", "--at", "2026-10-05T10:00Z", cwd=quoted)
    before = makeworth("prices", "lantern frame", "--json", "--as-of", "2026-10-02", cwd=quoted)
    assert before.json["items"][0]["ask"]["level"] == pytest.approx(2.4)
    assert before.json["items"][0]["quotes"] == 2


def test_dropping_a_quote_is_remembered(quoted, makeworth):
    rows = makeworth("prices", "binding wax", "--quotes", "--json", cwd=quoted).json["quotes"]
    dropped = makeworth("prices", "--drop", rows[0]["id"], "--json", cwd=quoted)
    assert dropped.code == 0, dropped.err
    (row,) = makeworth("prices", "binding wax", "--quotes", "--json", cwd=quoted).json["quotes"]
    assert row["screened"] is not None
    makeworth("prices", "--keep", row["id"], cwd=quoted)
    (row,) = makeworth("prices", "binding wax", "--quotes", "--json", cwd=quoted).json["quotes"]
    assert row["screened"] is None


def test_a_ruling_is_shown_and_lifted(quoted, makeworth):
    (row,) = makeworth("prices", "binding wax", "--quotes", "--json", cwd=quoted).json["quotes"]
    dropped = makeworth("prices", "--drop", row["id"], cwd=quoted)
    assert f"makeworth prices --unrule {row['id']}" in dropped.err
    shown = makeworth("prices", "binding wax", "--quotes", cwd=quoted).out
    assert "[dropped by you]" in " ".join(shown.split())
    assert "1 quote, 1 not believed" in shown and f"--unrule {row['id']}" in shown
    lifted = makeworth("prices", "--unrule", row["id"], cwd=quoted)
    assert lifted.code == 0 and "the screening judges it" in lifted.err
    (row,) = makeworth("prices", "binding wax", "--quotes", "--json", cwd=quoted).json["quotes"]
    assert (row["screened"], row["ruling"]) == (None, None)
    assert "By your word" not in makeworth("prices", "binding wax", "--quotes", cwd=quoted).out


def test_rulings_are_all_given_or_none(quoted, makeworth):
    (row,) = makeworth("prices", "binding wax", "--quotes", "--json", cwd=quoted).json["quotes"]
    assert makeworth("prices", "--drop", row["id"], "--unrule", "99999", cwd=quoted).code == 1
    (row,) = makeworth("prices", "binding wax", "--quotes", "--json", cwd=quoted).json["quotes"]
    assert row["ruling"] is None


def test_before_the_first_quote(quoted, makeworth):
    said = makeworth("prices", "--as-of", "2020-01-01", cwd=quoted)
    assert said.code == 0 and "No price was known by 2020-01-01 23:59" in said.out
    for words in (("lantern frame",), ("lantern frame", "--quotes")):
        run = makeworth("prices", *words, "--as-of", "2020-01-01", cwd=quoted)
        assert run.code == 1 and run.is_one_sentence()
        assert "no price of it was known by 2020-01-01 23:59; its first is of 2026-10-01" in run.err


def test_moneys_without_a_road_and_circles_are_named(workspace, makeworth):
    lines = ("river dye 5 tuft", "crown 12", "opal 3 crown", "opal 50 shell", "wax 2 opal")
    for hour in ("10:00", "12:00", "14:00", "16:00"):
        makeworth("quote", *lines, "--at", f"2026-10-01 {hour}", cwd=workspace)
    run = makeworth("prices", "--as-of", "2026-10-01", cwd=workspace)
    assert "no rate leads to shell from the money of some quotes of river dye" in run.err
    assert "the rates do not close" in run.err
    assert any(line.startswith("river dye") for line in run.out.splitlines())
    answer = makeworth("prices", "--as-of", "2026-10-01", "--json", cwd=workspace).json
    assert any("river dye" in each for each in answer["cautions"])
    assert any("the rates do not close" in each for each in answer["cautions"])
    (dye,) = (each for each in answer["items"] if each["item"] == "river dye")
    assert (dye["ask"], dye["quotes"], dye["screened"]) == (None, 4, 4)
    run = makeworth("prices", "river dye", "--quotes", "--as-of", "2026-10-01", cwd=workspace)
    assert "no rate" in run.out


def test_a_narrow_terminal(quoted, makeworth):
    for words in ((), ("lantern frame",), ("lantern frame", "--quotes"), ("--ladder",)):
        said = ("prices", *words, "--as-of", "2026-10-01")
        shown = makeworth(*said, cwd=quoted, columns=50).out
        assert max(map(len, shown.splitlines())) <= 50
        numbers = [word for word in makeworth(*said, cwd=quoted).out.split() if word[0].isdigit()]
        assert numbers and {word.rstrip(";") for word in shown.split()} >= set(numbers)


def test_terminal_fits_80_columns(quoted, makeworth):
    for words in ((), ("lantern frame",), ("lantern frame", "--quotes"), ("--ladder",)):
        shown = makeworth("prices", *words, "--as-of", "2026-10-01", cwd=quoted)
        assert shown.code == 0, shown.err
        assert max(map(len, shown.out.splitlines())) <= 80
        assert "lantern frame" in shown.out or "--quotes" in words


def test_an_empty_book_says_what_to_do(workspace, makeworth):
    shown = makeworth("prices", cwd=workspace)
    assert shown.code == 0
    assert "makeworth quote" in shown.out


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("lantern fraem",), 1, 'did you mean "lantern frame"?'),
        (("no such thing",), 1, "nothing is known of this item"),
        (("--as-of", "2026-13-01"), 1, "2026-13-01"),
        (("--as-of", "3/4/2026"), 1, "3/4/2026"),
        (("--days", "0"), 2, "from 1 to 366"),
        (("--days", "soon"), 2, "no list of days"),
        (("--quotes",), 2, "name one ITEM"),
        (("--keep", "99999"), 1, "no quote 99999"),
        (("--keep", "1", "--unrule", "1"), 2, "two of --keep, --drop and --unrule"),
        (("--unrule", "1"), 1, "neither kept nor dropped"),
        (("--colour",), 2, "no such option"),
        (("-w", "/nowhere/at/all"), 1, "/nowhere/at/all"),
    ],
)
def test_wrong_input_is_one_sentence(quoted, makeworth, words, code, said):
    run = makeworth("prices", *words, cwd=quoted)
    assert run.code == code, run.err
    assert run.is_one_sentence(), run.err
    assert said in run.err


def test_outside_a_workspace(tmp_path, makeworth):
    run = makeworth("prices", cwd=tmp_path)
    assert run.code == 1
    assert "makeworth start DIR" in run.err


def test_units_that_nobody_quoted_are_marked_in_the_ladder(workspace, makeworth):
    lines = ("binding wax 2.2", "binding wax 2.4 x30", "binding wax 2.5")
    assert makeworth("quote", *lines, cwd=workspace).code == 0
    out = makeworth("prices", "binding wax", "--ladder", cwd=workspace).out
    rows = [line.split() for line in out.splitlines()]
    # The only count said is 30, which is taken for the others.
    assert ["2.2", "about", "30", "about", "30", "2.2"] in rows
    assert ["2.4", "30", "about", "60", "2.3"] in rows
    assert "about: nobody said how many" in out
    makeworth("quote", "clear flux 1.5 x20", "clear flux 1.6 x5", cwd=workspace)
    assert "about" not in makeworth("prices", "clear flux", "--ladder", cwd=workspace).out


def test_every_null_is_told(workspace, makeworth):
    makeworth("quote", "lantern frame 2.4", cwd=workspace)
    run = makeworth("prices", "lantern frame", "--json", cwd=workspace)
    (item,) = run.json["items"]
    assert item["bid"] is None
    assert "Nobody is seen bidding: lantern frame." in run.json["cautions"]
    assert (item["day_of_season"] is None) == any("season" in s for s in run.json["cautions"])
    quotes = makeworth("prices", "lantern frame", "--quotes", "--json", cwd=workspace).json
    assert quotes["cautions"] == []


def test_the_level_and_what_stands_are_told_apart(quoted, makeworth):
    """The level is where the usual lot settles; the ladder line walks the offers that stand."""
    for price in ("400", "500"):
        words = ("tide bell", price, "--qty", "1", "--at", "2026-10-02T10:00Z")
        assert makeworth("quote", *words, cwd=quoted).code == 0
    said = makeworth("prices", "tide bell", "--as-of", "2026-10-02", cwd=quoted).out
    assert "ask: where a usual lot settles" in said
    assert "Buying now, cheapest first: 1 cost 400, 2 cost 900," in said
