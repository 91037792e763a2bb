"""A file goes into the book once and is put away, whatever comes between."""

from __future__ import annotations

import sqlite3

import pytest

from advisor.book.history import list_batches
from advisor.book.whole_book import every_quote
from advisor.errors import BookFault
from advisor.tasks import inbox as inbox_task
from advisor.tasks.inbox import forget_moved, take_in
from advisor.tasks.inbox_look import Lying, shape_of
from advisor.tasks.starting import start_workspace
from advisor.tasks.workspace import open_workspace

PRICES = "at,item,price,qty\n2026-11-02T20:10Z,binding wax,7/3,5\n2026-11-02T20:10Z,salt,0.95,9\n"


@pytest.fixture
def place(tmp_path):
    start_workspace(tmp_path / "fen", timezone="UTC")
    return open_workspace(str(tmp_path / "fen"))


def put(place, name, text=PRICES):
    file = place.inbox / name
    file.write_text(text)
    return Lying(file, shape_of(file))


def quotes(place):
    with place.open_book(read_only=True) as store:
        return [(each.item, each.price) for each in every_quote(store)]


def batches(place):
    with place.open_book(read_only=True) as store:
        return len(list_batches(store))


TWO = [("binding wax", "7/3"), ("salt", "0.95")]


def test_a_file_lands_in_the_book_and_in_done(place):
    taken = take_in(place, put(place, "a.csv"))
    assert (taken.put, taken.added, taken.refused) == ("done/a.csv", 2, False)
    assert quotes(place) == TWO
    assert [each.name for each in place.inbox.iterdir()] == ["done"]


def test_the_same_name_twice_loses_neither(place):
    take_in(place, put(place, "a.csv"))
    other = PRICES.replace("7/3", "5/2")
    taken = take_in(place, put(place, "a.csv", other))
    assert taken.put == "done/a (2).csv"
    assert (place.inbox / "done/a.csv").read_text() == PRICES
    assert (place.inbox / "done/a (2).csv").read_text() == other
    assert sorted(quotes(place)) == sorted([*TWO, ("binding wax", "2.5")])


def test_what_cannot_be_read_is_refused_with_the_reason_beside_it(place):
    taken = take_in(place, put(place, "a.csv", "hello\nworld\n"))
    assert taken.refused
    assert taken.put == "refused/a.csv"
    reason = (place.inbox / "refused/a.csv.reason.txt").read_text()
    assert reason.startswith("no line among the first 30 names an item")
    assert str(place.folder) not in reason
    assert quotes(place) == []
    again = take_in(place, put(place, "a.csv", "hello\nagain\n"))
    assert again.put == "refused/a (2).csv"
    assert (place.inbox / "refused/a (2).csv.reason.txt").exists()
    assert (place.inbox / "refused/a.csv").read_text() == "hello\nworld\n"


def test_a_file_that_changes_while_it_is_read_leaves_nothing_behind(place):
    lying = put(place, "a.csv")
    lying.path.write_text(PRICES + "2026-11-02T20:10Z,flux,10.5,8\n")
    taken = take_in(place, lying)
    assert (taken.put, quotes(place), batches(place)) == (None, [], 0)
    assert lying.path.exists()


class Killed(BaseException):
    pass


@pytest.mark.parametrize("moment", ["put_away", "forget_put_away", "unlink"])
def test_a_kill_between_the_book_and_the_move_takes_nothing_in_twice(place, moment, monkeypatch):
    def killed(*_, **__):
        raise Killed

    lying = put(place, "a.csv")
    with monkeypatch.context() as patch:
        if moment == "unlink":
            patch.setattr(type(lying.path), "unlink", killed)
        else:
            patch.setattr(inbox_task, moment, killed)
        with pytest.raises(Killed):
            take_in(place, lying)
    forget_moved(place)
    if lying.path.exists():
        taken = take_in(place, lying)
        assert (taken.put, taken.added) == ("done/a.csv", 0)
    assert (quotes(place), batches(place)) == (TWO, 1)
    assert [each.name for each in (place.inbox / "done").iterdir()] == ["a.csv"]
    # The very same file, put there anew, is one more file: nothing is new in it.
    assert take_in(place, put(place, "a.csv")).put == "done/a (2).csv"
    assert quotes(place) == TWO


def test_an_inbox_that_may_not_be_written_to_takes_each_file_in_once(place, monkeypatch):
    lying = put(place, "a.csv")
    with monkeypatch.context() as patch:
        patch.setattr(
            inbox_task, "_move", lambda *_: (_ for _ in ()).throw(PermissionError(13, "x"))
        )
        for _ in range(3):
            with pytest.raises(PermissionError):
                take_in(place, lying)
    assert (quotes(place), batches(place)) == (TWO, 1)
    assert take_in(place, lying).put == "done/a.csv"
    assert batches(place) == 1


def test_a_book_that_cannot_be_used_refuses_no_file(place, monkeypatch):
    def full(*_, **__):
        raise BookFault("no room left on the disk")

    lying = put(place, "a.csv")
    with monkeypatch.context() as patch:
        patch.setattr(inbox_task, "import_into", full)
        with pytest.raises(BookFault):
            take_in(place, lying)
    assert lying.path.exists()
    assert not (place.inbox / "refused").exists()
    assert take_in(place, lying).added == 2


def test_a_file_that_is_stopped_in_the_middle_leaves_nothing_behind(place):
    class Stopped(Exception):
        pass

    def stop(_share):
        raise Stopped

    lying = put(place, "a.csv")
    with pytest.raises(Stopped):
        take_in(place, lying, on_progress=stop)
    assert (quotes(place), batches(place)) == ([], 0)
    assert take_in(place, lying).added == 2


def test_a_book_that_another_process_writes_to_for_long_is_waited_for(place, monkeypatch):
    from advisor.book import connecting

    monkeypatch.setattr(connecting, "WAIT_SECONDS", 0.05)
    lying = put(place, "a.csv")
    with sqlite3.connect(place.book, isolation_level=None) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(BookFault, match="another makeworth is writing"):
            take_in(place, lying)
        other.execute("ROLLBACK")
    other.close()
    assert take_in(place, lying).put == "done/a.csv"


def test_a_link_in_place_of_a_folder_is_never_followed(place, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (place.inbox / "done").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(Exception, match="no folder of the workspace's own"):
        take_in(place, put(place, "a.csv"))
    assert list((tmp_path / "elsewhere").iterdir()) == []
