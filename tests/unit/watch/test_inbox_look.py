"""A file is taken when it is whole: still, closed, and plainly meant."""

from __future__ import annotations

import os
import sys

import pytest

from advisor.errors import BadInput
from advisor.tasks.inbox_look import InboxLook, is_open_for_writing, is_unfinished


@pytest.fixture
def inbox(tmp_path):
    (tmp_path / "inbox").mkdir()
    return tmp_path / "inbox"


def names(looked):
    return [lying.path.name for lying in looked.whole]


def test_a_file_is_whole_when_it_stood_still_for_two_seconds(inbox):
    look = InboxLook(inbox, inbox.parent)
    (inbox / "a.csv").write_text("item,price\n")
    first, early, still = look.look(10.0), look.look(11.9), look.look(12.0)
    assert (names(first), names(early), names(still)) == ([], [], ["a.csv"])
    assert first.waiting == 1


def test_a_file_that_grows_waits_from_its_last_change_on(inbox):
    look, file = InboxLook(inbox, inbox.parent), inbox / "a.csv"
    file.write_text("item,price\n")
    look.look(0.0)
    file.write_text("item,price\nwax,2\n")
    assert names(look.look(3.0)) == []
    assert names(look.look(5.0)) == ["a.csv"]


def test_a_file_replaced_by_one_of_the_same_size_and_time_is_another(inbox):
    look, file = InboxLook(inbox, inbox.parent), inbox / "a.csv"
    file.write_text("wax,2")
    os.utime(file, ns=(5, 5))
    look.look(0.0)
    (inbox / "b").write_text("wax,3")
    os.utime(inbox / "b", ns=(5, 5))
    (inbox / "b").replace(file)
    assert names(look.look(3.0)) == []


@pytest.mark.skipif(sys.platform != "linux", reason="leases are Linux's")
def test_a_file_that_somebody_writes_to_is_not_whole_however_still_it_is(inbox):
    """A copy that stalls: the writer has it open and adds nothing for a while."""
    look, file = InboxLook(inbox, inbox.parent), inbox / "a.csv"
    with file.open("w") as stream:
        stream.write("item,price\n")
        stream.flush()
        look.look(0.0)
        assert is_open_for_writing(file)
        assert names(look.look(1000.0)) == []
    assert not is_open_for_writing(file)
    assert names(look.look(1000.0)) == ["a.csv"]


def test_an_empty_file_is_given_a_minute_to_be_filled(inbox):
    look = InboxLook(inbox, inbox.parent)
    (inbox / "a.csv").touch()
    look.look(0.0)
    assert names(look.look(59.0)) == []
    assert names(look.look(60.0)) == ["a.csv"]


@pytest.mark.parametrize(
    "name", [".a.csv", "a.csv.part", "a.csv~", "~$a.xlsx", ".~lock.a.ods#", "a.CRDOWNLOAD", "a.tmp"]
)
def test_hidden_and_unfinished_names_are_passed_over(inbox, name):
    assert is_unfinished(name)
    look = InboxLook(inbox, inbox.parent)
    (inbox / name).write_text("item,price\n")
    look.look(0.0)
    looked = look.look(100.0)
    assert (looked.whole, looked.waiting, looked.odd) == ([], 0, [])


def test_links_folders_and_pipes_are_left_alone_and_told_once(inbox):
    secret = inbox.parent.parent / "outside.csv"
    secret.write_text("item,price\nwax,2\n")
    (inbox / "link.csv").symlink_to(secret)
    (inbox / "folder").mkdir()
    os.mkfifo(inbox / "pipe.csv")
    look = InboxLook(inbox, inbox.parent)
    first, second = look.look(0.0), look.look(10.0)
    assert {name for name, _ in first.odd} == {"link.csv", "folder", "pipe.csv"}
    assert (second.odd, second.whole) == ([], [])


def test_a_missing_inbox_is_made(inbox):
    inbox.rmdir()
    assert InboxLook(inbox, inbox.parent).look(0.0).whole == []
    assert inbox.is_dir()


@pytest.mark.parametrize("name", ["inbox", "inbox/done", "inbox/refused"])
def test_an_inbox_that_leads_out_of_the_workspace_is_refused(inbox, name, tmp_path_factory):
    elsewhere = tmp_path_factory.mktemp("elsewhere")
    place = inbox.parent / name
    if name == "inbox":
        place.rmdir()
    place.symlink_to(elsewhere, target_is_directory=True)
    with pytest.raises(BadInput, match="no folder of the workspace's own"):
        InboxLook(inbox, inbox.parent).look(0.0)


def test_files_come_in_the_order_they_were_written(inbox):
    for at, name in enumerate(["c.csv", "a.csv", "b.csv"]):
        (inbox / name).write_text("item,price\n")
        os.utime(inbox / name, ns=(at, at))
    look = InboxLook(inbox, inbox.parent)
    look.look(0.0)
    assert names(look.look(5.0)) == ["c.csv", "a.csv", "b.csv"]
