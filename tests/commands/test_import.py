"""`makeworth import`: what goes in, what is set aside, what is taken back, what is refused."""

from __future__ import annotations

import json
import os

import pytest

KEYS = {"file", "batch", "rows", "added", "known", "layout", "set_aside"}

GOOD = (
    "at,item,price,money,side,qty,trader,source,note\n"
    "2026-09-01T10:00:00Z,lantern frame,2.4,shell,ask,60,Hob Lathe,,\n"
    "2026-09-01T11:00:00Z,binding wax,7/3,shell,bid,,,,\n"
    "2026-09-01T12:00:00Z,binding wax,-1,shell,bid,,,,\n"
)


@pytest.fixture
def good(workspace):
    (workspace / "prices.csv").write_text(GOOD, encoding="utf-8")
    return workspace


def quotes_of(makeworth, workspace, item):
    return makeworth("prices", item, "--quotes", "--json", cwd=workspace).json["quotes"]


def test_json_keeps_the_contract(good, makeworth):
    (answer,) = makeworth("import", "prices.csv", "--json", cwd=good).json
    assert set(answer) >= KEYS
    assert (answer["rows"], answer["added"], answer["known"]) == (3, 2, 0)
    assert answer["batch"] == 1
    assert answer["layout"] == "canonical"
    (row,) = answer["set_aside"]
    assert set(row) >= {"line", "column", "reason", "text"}
    assert (row["line"], row["column"], row["reason"]) == (4, "price", "negative")
    assert row["text"] == "2026-09-01T12:00:00Z,binding wax,-1,shell,bid,,,,"


def test_the_answer_for_people_names_what_was_set_aside(good, makeworth):
    run = makeworth("import", "prices.csv", cwd=good)
    assert run.code == 0
    assert "3 rows: 2 added, 0 known, 1 set aside" in run.out
    assert "line 4, price: negative" in run.out
    assert "canonical; UTF-8, comma, header in line 1" in run.out


def test_the_same_file_twice_adds_nothing(good, makeworth):
    makeworth("import", "prices.csv", cwd=good)
    (again,) = makeworth("import", "prices.csv", "--json", cwd=good).json
    assert (again["added"], again["known"], len(again["set_aside"])) == (0, 2, 1)
    assert len(makeworth("import", "--set-aside", "--json", cwd=good).json) == 1
    assert len(quotes_of(makeworth, good, "lantern frame")) == 1


def test_a_file_without_times_twice_adds_nothing_even_when_it_is_copied(workspace, makeworth):
    one, two = workspace / "one.csv", workspace / "two.csv"
    one.write_text("item,price\nwax,2.5\n", encoding="utf-8")
    two.write_text("item,price\nwax,2.5\n", encoding="utf-8")
    os.utime(two, (1_700_000_000, 1_700_000_000))
    (first,) = makeworth("import", "one.csv", "--json", cwd=workspace).json
    (second,) = makeworth("import", "two.csv", "--json", cwd=workspace).json
    assert (first["added"], second["added"], second["known"]) == (1, 0, 1)


def test_the_same_quote_from_two_files_counts_once(good, makeworth):
    other = (
        'When seen;Goods;Unit cost;How many;Who\n1/9/2026 10:00;LANTERN frame;"2,40";60;hob lathe\n'
    )
    (good / "other.csv").write_text(other + "13/9/2026;flux;1,5;;\n", encoding="utf-8")
    makeworth("import", "prices.csv", cwd=good)
    (answer,) = makeworth("import", "other.csv", "--json", cwd=good).json
    assert (answer["added"], answer["known"]) == (1, 1)


def test_check_keeps_nothing(good, makeworth):
    (answer,) = makeworth("import", "prices.csv", "--check", "--json", cwd=good).json
    assert (answer["batch"], answer["added"]) == (None, 2)
    assert makeworth("import", "--batches", "--json", cwd=good).json == []
    assert makeworth("import", "--set-aside", "--json", cwd=good).json == []


def test_a_batch_is_taken_back_whole(good, makeworth):
    makeworth("import", "prices.csv", cwd=good)
    answer = makeworth("import", "--undo", "1", "--json", cwd=good).json
    assert answer == {"batch": 1, "removed": 2, "kept": 0}
    assert makeworth("import", "--set-aside", "--json", cwd=good).json == []
    (batch,) = makeworth("import", "--batches", "--json", cwd=good).json
    assert batch["undone"] is True
    (again,) = makeworth("import", "prices.csv", "--json", cwd=good).json
    assert again["added"] == 2


def test_batches_stay_a_table_however_long_a_path_is(good, makeworth):
    deep = good / "the whole of the autumn fair in the fen" / ("long" * 20)
    deep.mkdir(parents=True)
    for name in ("short.csv", f"{'autumn' * 15}.csv"):
        (deep / name).write_text(GOOD.replace("2.4", str(len(name))), encoding="utf-8")
        assert makeworth("import", deep / name, cwd=good).code == 0
    makeworth("import", "--undo", "1", cwd=good)
    out = makeworth("import", "--batches", cwd=good).out
    heading, one, two = out.splitlines()
    assert heading.split() == ["batch", "when", "file", "added", "known", "aside"]
    assert one.split()[0] == "1" and "short.csv" in one and one.endswith("taken back")
    assert two.split()[0] == "2" and "mnautumn.csv" in two
    assert max(map(len, (heading, one, two))) <= 80
    first, _ = makeworth("import", "--batches", "--json", cwd=good).json
    assert first["file"] == str(deep / "short.csv")


def test_a_corrected_file_takes_in_what_was_set_aside(good, makeworth):
    makeworth("import", "prices.csv", cwd=good)
    (good / "prices.csv").write_text(GOOD.replace("-1", "2.6"), encoding="utf-8")
    (answer,) = makeworth("import", "prices.csv", "--json", cwd=good).json
    assert (answer["added"], answer["known"], answer["set_aside"]) == (1, 2, [])
    assert makeworth("import", "--set-aside", "--json", cwd=good).json == []
    makeworth("import", "--undo", "2", cwd=good)
    assert len(makeworth("import", "--set-aside", "--json", cwd=good).json) == 1


def test_another_file_of_the_same_name_does_not_hide_what_was_set_aside(good, makeworth):
    makeworth("import", "prices.csv", cwd=good)
    (good / "prices.csv").write_text(GOOD.replace("2026-09-01", "2026-09-02"), encoding="utf-8")
    makeworth("import", "prices.csv", cwd=good)
    assert len(makeworth("import", "--set-aside", "--json", cwd=good).json) == 2


def test_a_corrected_setting_takes_in_what_was_set_aside(workspace, makeworth):
    (workspace / "prices.csv").write_text(
        "at,item,price\n2026-09-01,lantern fraem,2.4\n", encoding="utf-8"
    )
    makeworth("quote", "lantern frame", "2", cwd=workspace)
    run = makeworth("import", "prices.csv", cwd=workspace)
    assert 'did you mean "lantern frame"' in run.out
    settings = workspace / "makeworth.toml"
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text + '\n[item."lantern fraem"]\n', encoding="utf-8")
    (answer,) = makeworth("import", "prices.csv", "--json", cwd=workspace).json
    assert (answer["added"], answer["set_aside"]) == (1, [])
    assert makeworth("import", "--set-aside", "--json", cwd=workspace).json == []


def test_set_aside_explains_every_reason(good, makeworth):
    makeworth("import", "prices.csv", cwd=good)
    run = makeworth("import", "--set-aside", cwd=good)
    assert '"negative": the number is below zero' in run.out
    assert "line 4, price: negative" in run.out


def test_a_mapping_is_saved_and_found_again_by_the_header(workspace, makeworth):
    (workspace / "one.csv").write_text("Ware;Preis\nwax;1.250\n", encoding="utf-8")
    (workspace / "two.csv").write_text("Ware;Preis\nflux;2.250\n", encoding="utf-8")
    words = ("--map", "item=Ware", "--map", "price=Preis", "--layout", "hall")
    run = makeworth("import", "one.csv", *words, "--decimal", "comma", "--check", cwd=workspace)
    assert "columns: item = Ware, price = Preis" in run.out
    run = makeworth("import", "one.csv", *words, "--decimal", "comma", "--json", cwd=workspace)
    assert run.json[0]["added"] == 1
    (found,) = makeworth("import", "two.csv", "--json", cwd=workspace).json
    assert (found["layout"], found["added"]) == ("hall", 1)
    (quote,) = quotes_of(makeworth, workspace, "flux")
    assert quote["price_as_typed"] == "2250"
    assert makeworth("import", "two.csv", "--layout", "hall", "--check", cwd=workspace).code == 0


def test_the_money_of_prices_that_name_none(workspace, makeworth):
    (workspace / "one.csv").write_text("item,price\nwax,2.5\n", encoding="utf-8")
    makeworth("import", "one.csv", "--money", "crown", cwd=workspace)
    (quote,) = quotes_of(makeworth, workspace, "wax")
    assert quote["money"] == "crown"


def test_dates_under_an_unknown_name_are_asked_for(workspace, makeworth):
    text = "Datum,Item,Unit cost,Anzahl\n2026-09-01,lantern frame,2.4,60\n"
    (workspace / "prices.csv").write_text(text, encoding="utf-8")
    run = makeworth("import", "prices.csv", cwd=workspace)
    assert run.code == 1 and run.is_one_sentence()
    assert "'Datum'" in run.err and '--map at="Datum"' in run.err and "--at TIME" in run.err
    assert makeworth("import", "--batches", "--json", cwd=workspace).json == []
    assert makeworth("import", "prices.csv", "--map", "at=Datum", cwd=workspace).code == 0
    (quote,) = quotes_of(makeworth, workspace, "lantern frame")
    assert quote["at"] == "2026-09-01T00:00:00Z"


def test_when_and_what_where_the_file_does_not_say(workspace, makeworth):
    (workspace / "wide.csv").write_text("Item,Bid,Ask\nwax,2,3\n", encoding="utf-8")
    said = ("--at", "2026-09-01 10:00", "--json")
    for column, side in (("Bid", "buying"), ("Ask", "ask")):
        words = ("wide.csv", "--map", f"price={column}", "--side", side)
        assert makeworth("import", *words, *said, cwd=workspace).json[0]["added"] == 1
    found = {(q["side"], q["price"], q["at"]) for q in quotes_of(makeworth, workspace, "wax")}
    assert found == {("bid", 2.0, "2026-09-01T10:00:00Z"), ("ask", 3.0, "2026-09-01T10:00:00Z")}


SEEN_BY_MONTH = (
    "When;What;Cost\n"
    "09/24/2026;lantern frame;2,4\n"
    "10/13/2026;lantern frame;2,5\n"
    "11/05/2026;lantern frame;2,6\n"
)


@pytest.fixture
def by_month(workspace):
    """A file with the month first, in a workspace whose setting says the day comes first."""
    settings = workspace / "makeworth.toml"
    words = [
        line
        for line in settings.read_text(encoding="utf-8").splitlines()
        if not line.startswith("date_order")
    ]
    settings.write_text("\n".join(['date_order = "dmy"', *words]) + "\n", encoding="utf-8")
    (workspace / "odd.csv").write_text(SEEN_BY_MONTH, encoding="utf-8")
    return workspace


MAPPED = ("--map", "at=When", "--map", "item=What", "--map", "price=Cost", "--layout", "tam")


def test_what_a_layout_keeps_goes_before_the_settings(by_month, makeworth):
    said = ("--date-order", "mdy", "--decimal", "comma", "--side", "bid", "--money", "crown")
    (first,) = makeworth("import", "odd.csv", *MAPPED, *said, "--json", cwd=by_month).json
    assert (first["added"], first["set_aside_count"]) == (3, 0)
    for words in ((), ("--layout", "tam")):
        (again,) = makeworth("import", "odd.csv", *words, "--json", cwd=by_month).json
        assert (again["layout"], again["added"], again["known"]) == ("tam", 0, 3)
        assert 'dates are read as mdy, as the layout "tam" says' in again["notes"]
    found = quotes_of(makeworth, by_month, "lantern frame")
    assert {(each["side"], each["money"]) for each in found} == {("bid", "crown")}
    assert found[-1]["at"] == "2026-11-05T00:00:00Z"  # the month first: 5 November


def test_an_option_goes_before_what_a_layout_keeps(by_month, makeworth):
    makeworth("import", "odd.csv", *MAPPED, "--date-order", "mdy", "--check", cwd=by_month)
    said = ("--date-order", "mdy", "--decimal", "comma", "--side", "bid")
    makeworth("import", "odd.csv", *MAPPED, *said, cwd=by_month)
    (by_month / "other.csv").write_text("When;What;Cost\n11/05/2026;wax;1.250\n", encoding="utf-8")
    words = ("--date-order", "dmy", "--decimal", "point", "--side", "deal", "--money", "crown")
    assert makeworth("import", "other.csv", *words, cwd=by_month).code == 0
    (quote,) = quotes_of(makeworth, by_month, "wax")
    assert quote["at"] == "2026-05-11T00:00:00Z"
    assert (quote["price_as_typed"], quote["side"], quote["money"]) == ("1.25", "deal", "crown")


def test_a_layout_saved_anew_keeps_what_is_not_said_again(by_month, makeworth):
    said = ("--date-order", "mdy", "--decimal", "comma", "--side", "bid")
    run = makeworth("import", "odd.csv", *MAPPED, *said, cwd=by_month)
    assert 'saved as "tam", with decimal comma, date order mdy, side bid' in " ".join(
        run.out.split()
    )
    (again,) = makeworth("import", "odd.csv", *MAPPED, "--json", cwd=by_month).json
    assert (again["added"], again["known"]) == (0, 3)
    (plain,) = makeworth("import", "odd.csv", "--json", cwd=by_month).json
    assert (plain["added"], plain["known"]) == (0, 3)


def test_the_inbox_reads_by_the_layout_too(by_month, makeworth):
    said = ("--date-order", "mdy", "--decimal", "comma")
    makeworth("import", "odd.csv", *MAPPED, *said, cwd=by_month)
    (by_month / "inbox").mkdir(exist_ok=True)
    text = SEEN_BY_MONTH.replace("11/05/2026", "11/06/2026")
    (by_month / "inbox" / "odd.csv").write_text(text, encoding="utf-8")
    old = (by_month / "inbox" / "odd.csv").stat().st_mtime - 600
    os.utime(by_month / "inbox" / "odd.csv", (old, old))
    run = makeworth("watch", "--once", cwd=by_month)
    assert run.code == 0, run.err
    seen = [each["at"][:10] for each in quotes_of(makeworth, by_month, "lantern frame")]
    assert seen == ["2026-09-24", "2026-10-13", "2026-11-05", "2026-11-06"]


def test_dates_that_only_fit_another_order_are_told(by_month, makeworth):
    (answer,) = makeworth("import", "odd.csv", *MAPPED, "--json", cwd=by_month).json
    assert (answer["added"], answer["set_aside_count"]) == (1, 2)
    (note,) = [each for each in answer["notes"] if "as mdy" in each]
    assert note.startswith("2 dates are none as dmy but would be as mdy, such as '09/24/2026'")
    assert "line 2" in note and "--date-order mdy" in note


def test_a_layout_remembers_the_side(workspace, makeworth):
    for name in ("one.csv", "two.csv"):
        (workspace / name).write_text(f"Item,Bid\n{name} wax,2\n", encoding="utf-8")
    words = ("--map", "price=Bid", "--side", "wanted", "--layout", "bids")
    makeworth("import", "one.csv", *words, cwd=workspace)
    (found,) = makeworth("import", "two.csv", "--json", cwd=workspace).json
    assert found["layout"] == "bids"
    (quote,) = quotes_of(makeworth, workspace, "two.csv wax")
    assert quote["side"] == "bid"


def test_quotes_dated_later_than_now_are_told(workspace, makeworth):
    rows = "wax,2,2190-01-01\nflux,2,2190-03-01 10:00\nsalt,2,2026-09-01\nash,2,2290-01-01\n"
    (workspace / "prices.csv").write_text("item,price,at\n" + rows, encoding="utf-8")
    run = makeworth("import", "prices.csv", cwd=workspace)
    told = " ".join(run.out.split())
    assert "2 quotes dated later than now, up to 2190-03-01 10:00" in told
    assert "line 5, at: not a date" in told
    said = " ".join(makeworth("import", "--set-aside", cwd=workspace).out.split())
    assert "no such day is in 1900 to 2200" in said


def test_entries_of_a_json_list_are_numbered(workspace, makeworth):
    text = '[{"item":"wax","price":2},{"item":"wax","price":-2},7]'
    (workspace / "prices.json").write_text(text, encoding="utf-8")
    run = makeworth("import", "prices.json", cwd=workspace)
    assert 'line 1, entry 2, price: negative: {"item":"wax","price":-2}' in run.out
    assert "line 1, entry 3: not an object: 7" in run.out
    (answer,) = makeworth("import", "prices.json", "--json", "--check", cwd=workspace).json
    assert [row["entry"] for row in answer["set_aside"]] == [2, 3]


@pytest.mark.parametrize("columns", [80, 50])
def test_long_rows_and_names_fit_the_width(workspace, makeworth, columns):
    name = "a price list with a rather long name of many words, as people give them.csv"
    rows = f"wax,-1,{'abc def ' * 60}\n" + "long wax,x,\n" * 25
    (workspace / name).write_text("item,price,note\n" + rows, encoding="utf-8")
    shown = [
        makeworth("import", *words, cwd=workspace, columns=columns).out
        for words in ((name,), ("--set-aside",), ("--batches",))
    ]
    for text in shown:
        assert text and max(map(len, text.splitlines())) <= columns
    assert "26 rows: 0 added, 0 known, 26 set aside" in shown[0]
    assert "and 6 more: makeworth import --set-aside" in shown[0]
    assert "abc def abc def" in shown[1] and "..." in shown[1]


def test_one_is_not_told_as_many(workspace, makeworth):
    (workspace / "prices.csv").write_text("item,price\nwax,2\n", encoding="utf-8")
    assert "1 row: 1 added" in makeworth("import", "prices.csv", cwd=workspace).out
    (workspace / "again.csv").write_text("item,price\nwax,2\n", encoding="utf-8")
    makeworth("import", "again.csv", cwd=workspace)
    assert "1 stays, as a later batch had it too" in (
        makeworth("import", "--undo", "1", cwd=workspace).out
    )
    assert "1 quote removed" in makeworth("import", "--undo", "2", cwd=workspace).out


def test_one_bad_file_does_not_keep_the_others_out(good, makeworth):
    (good / "bad.csv").write_text("nothing here\n", encoding="utf-8")
    run = makeworth("import", "bad.csv", "prices.csv", "--json", cwd=good)
    assert run.code == 1
    assert [each["file"] for each in run.json] == ["prices.csv"]
    assert "bad.csv" in run.err and "1 of 2 files" in run.err
    assert "Traceback" not in run.err


def test_terminal_escapes_in_a_file_do_not_reach_the_terminal(workspace, makeworth):
    text = "item,price\n\x1b[31mred\x1b[0m wax,2.5\n\x9b31mflux,1.5\n"
    (workspace / "\x1b[2J.csv").write_text(text, encoding="utf-8")
    run = makeworth("import", "\x1b[2J.csv", cwd=workspace)
    assert run.code == 0
    assert "\x1b" not in run.out + run.err and "\x9b" not in run.out + run.err
    assert "control character" in run.out


def test_a_file_name_that_is_no_text(workspace, makeworth):
    name = os.fsdecode(b"pr\xffces.csv")
    (workspace / name).write_text("item,price\nwax,2.5\n", encoding="utf-8")
    assert makeworth("import", name, "--json", cwd=workspace).json[0]["file"] == "pr\ufffdces.csv"
    (workspace / name).write_text("nothing\n", encoding="utf-8")
    assert makeworth("import", name, cwd=workspace).is_one_sentence()


def test_a_whole_export_goes_in_as_it_was(good, makeworth, tmp_path):
    makeworth("import", "prices.csv", cwd=good)
    assert makeworth("export", tmp_path / "copy", cwd=good).code == 0
    makeworth("start", tmp_path / "other", cwd=tmp_path)
    run = makeworth("import", tmp_path / "copy", "--json", cwd=tmp_path / "other")
    (answer,) = run.json
    assert (answer["added"], answer["rows"], answer["layout"]) == (2, 3, "export")
    (aside,) = makeworth("import", "--set-aside", "--json", cwd=tmp_path / "other").json
    assert aside["reason"] == "negative"
    before = quotes_of(makeworth, good, "lantern frame")
    after = quotes_of(makeworth, tmp_path / "other", "lantern frame")
    assert [each["price_as_typed"] for each in after] == [each["price_as_typed"] for each in before]


WRONG_FILES = {
    "missing.csv": (None, "no such file"),
    "empty.csv": (b"", "empty"),
    "words.csv": (b"hello\nworld\n", "no line among the first"),
    "zeros.csv": (b"item,price\x00\n", "zero bytes"),
    "open.csv": (b'item,price\nwax,"1,250"\n', "--decimal"),
    "both.csv": (b"item;price\nwax;1.5\nwax;1,5\n", "--decimal"),
    "dates.csv": (b"item,price,at\nwax,1.5,03/04/2026\n", "--date-order"),
    "orders.csv": (b"item,price,at\nwax,1.5,25/04/2026\nwax,1.5,04/25/2026\n", "--date-order"),
    "double.csv": (b"item,price,price\nwax,1,2\n", "two columns are called"),
    "broken.json": (b'[{"item": "wax", ', "no sound JSON"),
    "broken.xlsx": (b"PK\x03\x04junk", "damaged"),
    "broken.parquet": (b"PAR1junk", "damaged"),
}


@pytest.mark.parametrize("name", WRONG_FILES)
def test_wrong_files_get_one_sentence_and_leave_no_trace(workspace, makeworth, name):
    content, what = WRONG_FILES[name]
    if content is not None:
        (workspace / name).write_bytes(content)
    run = makeworth("import", name, cwd=workspace)
    assert run.code == 1
    assert run.is_one_sentence()
    assert name in run.err and what in run.err
    assert makeworth("import", "--batches", "--json", cwd=workspace).json == []


@pytest.mark.parametrize(
    ("words", "code", "what"),
    [
        ((), 2, "no file given"),
        (("prices.csv", "--undo", "1"), 2, "go alone"),
        (("--undo", "7"), 1, "no batch 7"),
        (("--undo", "x"), 2, "--undo"),
        (("prices.csv", "--map", "price"), 2, "COL=NAME"),
        (("prices.csv", "--map", "price=a", "--map", "price=b"), 2, "given twice"),
        (("prices.csv", "--map", "prise=a"), 1, 'did you mean "price"'),
        (("prices.csv", "--layout", "nowhere"), 1, "no layout 'nowhere'"),
        (("prices.csv", "--decimal", "dot"), 2, "none of comma, point"),
        (("prices.csv", "--date-order", "ydm"), 2, "none of dmy, mdy, ymd"),
        (("prices.csv", "--money", "shel"), 1, 'did you mean "shell"'),
        (("prices.csv", "--side", "sel"), 2, "none of ask, bid, deal"),
        (("prices.csv", "--at", "2290-01-01"), 1, "years are from 1900 to 2200"),
        (("prices.csv", "--at", "soon"), 1, "'soon' is no date"),
        (("prices.csv", "--bogus",), 2, "--bogus"),
        ((".",), 1, "folder"),
        (("-w", "nowhere", "prices.csv"), 1, "nowhere"),
    ],
)  # fmt: skip
def test_wrong_use_is_told_in_one_sentence(good, makeworth, words, code, what):
    run = makeworth("import", *words, cwd=good)
    assert run.code == code
    assert run.is_one_sentence()
    assert what in run.err


def test_json_of_every_kind_is_json(good, makeworth):
    makeworth("import", "prices.csv", cwd=good)
    for words in (("--batches",), ("--set-aside",), ("--undo", "1")):
        json.loads(makeworth("import", *words, "--json", cwd=good).out)
