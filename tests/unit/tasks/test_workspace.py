"""Which folder is the workspace, and opening its book."""

from __future__ import annotations

from fractions import Fraction

import pytest

from advisor.book.batches import add_quotes
from advisor.book.series import quote_rows
from advisor.errors import BadInput
from advisor.quotes import Quote
from advisor.tasks.starting import start_workspace
from advisor.tasks.workspace import WORKSPACE_VARIABLE, find_workspace, open_workspace


@pytest.fixture
def fen(tmp_path, monkeypatch):
    monkeypatch.delenv(WORKSPACE_VARIABLE, raising=False)
    monkeypatch.chdir(tmp_path)
    start_workspace(tmp_path / "fen", timezone="UTC")
    return tmp_path / "fen"


def test_the_option_comes_before_the_environment_before_the_folder(fen, monkeypatch):
    start_workspace(fen.parent / "told", timezone="UTC")
    start_workspace(fen.parent / "by variable", timezone="UTC")
    (fen / "routes" / "deep").mkdir()
    monkeypatch.chdir(fen / "routes" / "deep")
    assert find_workspace(None) == fen
    monkeypatch.setenv(WORKSPACE_VARIABLE, str(fen.parent / "by variable"))
    assert find_workspace(None) == fen.parent / "by variable"
    assert find_workspace(str(fen.parent / "told")) == fen.parent / "told"


@pytest.mark.parametrize(
    ("option", "words"),
    [("gone", "names no folder"), ("fen/routes", "without makeworth.toml"), ("", "makeworth")],
)
def test_an_option_that_names_no_workspace_is_refused(fen, option, words):
    with pytest.raises(BadInput, match=words) as caught:
        find_workspace(option)
    assert "makeworth start" in str(caught.value)


def test_where_there_is_no_workspace_the_way_to_one_is_told(fen):
    with pytest.raises(BadInput, match="makeworth start DIR"):
        find_workspace(None)


def test_folders_and_book_of_a_workspace(fen):
    place = open_workspace(str(fen))
    assert place.settings.money == "shell"
    for folder in (place.routes, place.pools, place.inbox, place.reports):
        assert folder.is_dir()
    with place.open_book() as store:
        assert store.path == place.book


@pytest.mark.parametrize("read_only", [True, False])
def test_a_book_that_is_missing_is_made(fen, read_only):
    """So that a folder with settings and routes written by hand answers what-ifs at once."""
    place = open_workspace(str(fen))
    place.book.unlink()
    with place.open_book(read_only=read_only):
        pass
    assert place.book.exists()


@pytest.mark.parametrize("read_only", [True, False])
def test_a_spelling_told_of_later_is_settled_on_opening(fen, read_only):
    place = open_workspace(str(fen))
    with place.open_book() as store:
        add_quotes(store, [Quote(1, "old frame", Fraction(2), "shell")])
    settings = fen / "makeworth.toml"
    settings.write_text(settings.read_text().replace('"lantern frames"]', '"old frame"]'))
    with open_workspace(str(fen)).open_book(read_only=read_only) as store:
        assert len(quote_rows(store, "lantern frame")) == 1
