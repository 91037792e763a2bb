"""One's own listings are no news of the market: all is as if the book did not hold them."""

from __future__ import annotations

import pytest

AS_OF = ("--as-of", "2026-10-03T12:00Z")
OTHERS = (
    ("star compass", "410", "--qty", "1", "--trader", "Jory Fen", "--at", "2026-10-01T10:00Z"),
    ("star compass", "425", "--qty", "2", "--trader", "Hob Lathe", "--at", "2026-10-02T10:00Z"),
    ("star compass", "360", "--side", "bid", "--trader", "Nell Quay", "--at", "2026-10-02T11:00Z"),
    ("crown", "40", "--trader", "Jory Fen", "--at", "2026-10-01T10:00Z"),
    ("glow sand", "2", "--money", "crown", "--at", "2026-10-01T10:00Z"),
)
OWN = (
    ("star compass", "290", "--qty", "2", "--trader", "nell  quay", "--at", "2026-10-03T10:00Z"),
    ("crown", "55", "--trader", "Nell Quay", "--at", "2026-10-03T10:00Z"),
)


@pytest.fixture
def quoted(workspace, makeworth):
    def run(*rows, stall="Nell Quay"):
        file = workspace / "makeworth.toml"
        if stall is not None and "\nstall =" not in file.read_text():
            file.write_text(file.read_text().replace("[trade]\n", f'[trade]\nstall = "{stall}"\n'))
        for words in rows:
            made = makeworth("quote", *words, cwd=workspace)
            assert made.code == 0, made.err
        return workspace

    return run


def without_counts(answer):
    return [
        {key: value for key, value in item.items() if key not in ("quotes", "screened")}
        for item in answer["items"]
    ]


def test_prices_and_ladders_are_as_if_others_alone_had_asked(quoted, makeworth):
    before = quoted(*OTHERS)
    prices = makeworth("prices", "--json", *AS_OF, cwd=before).json
    ladder = makeworth("prices", "star compass", "--ladder", *AS_OF, cwd=before).out
    after = quoted(*OWN)
    again = makeworth("prices", "--json", *AS_OF, cwd=after).json
    assert without_counts(again) == without_counts(prices)
    assert makeworth("prices", "star compass", "--ladder", *AS_OF, cwd=after).out == ladder


def test_own_listings_are_shown_with_their_reason(quoted, makeworth):
    place = quoted(*OTHERS, *OWN)
    words = ("prices", "star compass", "--quotes", *AS_OF)
    reasons = [each["screened"] for each in makeworth(*words, "--json", cwd=place).json["quotes"]]
    assert reasons == [None, None, None, "own stall"]
    assert "4 quotes, 1 of your own stall, 0 not believed." in makeworth(*words, cwd=place).out
    said = makeworth("prices", "star compass", *AS_OF, cwd=place).out
    assert "Of your own stall, and no news of what others ask: 1 quote." in said
    assert "Not believed" not in said


def test_what_was_learned_before_the_stall_had_a_name_is_learned_anew(quoted, makeworth):
    def ask_level(place):
        answer = makeworth("prices", "star compass", "--json", *AS_OF, cwd=place).json
        return answer["items"][0]["ask"]["level"]

    unnamed = ask_level(quoted(*OTHERS, *OWN, stall=None))
    assert ask_level(quoted()) > unnamed


def test_a_listing_that_one_keeps_by_name_counts(quoted, makeworth):
    place = quoted(*OTHERS, *OWN)
    words = ("prices", "star compass", "--quotes", "--json", *AS_OF)
    own = makeworth(*words, cwd=place).json["quotes"][-1]
    assert makeworth("prices", "--keep", str(own["id"]), cwd=place).code == 0
    assert makeworth(*words, cwd=place).json["quotes"][-1]["screened"] is None


def test_selling_goes_by_what_others_ask(quoted, makeworth):
    words = ("advise", "sell", "star compass", "--count", "2", "--within", "3", "--json", *AS_OF)
    before = makeworth(*words, cwd=quoted(*OTHERS)).json
    after = makeworth(*words, cwd=quoted(*OWN)).json
    assert after["level"] == before["level"]
    assert after["demand"]["days"] > before["demand"]["days"] == 0


def test_an_item_that_only_oneself_offers_has_no_price(quoted, makeworth):
    place = quoted(OWN[0])
    answer = makeworth("prices", "star compass", "--json", *AS_OF, cwd=place).json
    (item,) = answer["items"]
    assert (item["ask"], item["newest"], item["forecast"]) == (None, None, [])
    assert "Nobody else's quote is known: star compass." in answer["cautions"]
    assert makeworth("prices", *AS_OF, cwd=place).code == 0
    assert makeworth("advise", "sell", "star compass", *AS_OF, cwd=place).is_one_sentence()
