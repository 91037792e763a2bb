"""`prices` on markets that are hardly markets, and its second opinion."""

import pytest


@pytest.fixture
def fen(makeworth, tmp_path):
    """A workspace in which quotes can be typed and prices asked."""
    makeworth("start", "fen", cwd=tmp_path)

    class Fen:
        folder = tmp_path / "fen"

        def __call__(self, *words):
            return makeworth(*words, cwd=self.folder)

        def take_in(self, lines):
            (self.folder / "seen.csv").write_text("at,item,price,qty,trader\n" + "\n".join(lines))
            taken = self("import", "seen.csv")
            assert taken.code == 0, taken.err

    return Fen()


def day(number):
    return f"2026-09-{number:02d}T12:00:00Z"


def test_no_quote_at_all(fen):
    answer = fen("prices", "--json")
    assert answer.code == 0
    assert [item["ask"] for item in answer.json["items"] if item["item"] != "shell"] == []
    assert fen("prices", "plum").is_one_sentence()


def test_every_quote_dropped(fen):
    fen.take_in([f"{day(k)},plum,2.{k},," for k in (1, 2)])
    told = fen("prices", "plum", "--drop", "1", "--drop", "2")
    assert told.code == 0
    answer = fen("prices", "plum", "--json").json["items"][0]
    assert answer["ask"] is None
    assert answer["screened"] == answer["quotes"] == 2
    assert answer["forecast"] == []


def test_a_quote_far_in_the_future_is_not_known_yet(fen):
    fen.take_in(
        [*(f"{day(k)},plum,2.{k},," for k in range(1, 8)), "9999-01-01T00:00:00Z,plum,900,,"]
    )
    answer = fen("prices", "plum", "--json", "--as-of", "2026-09-30").json["items"][0]
    assert answer["quotes"] == 7
    assert 1.9 < answer["ask"]["level"] < 2.9


def test_prices_over_fifteen_orders_of_magnitude(fen):
    fen.take_in([f"{day(k)},plum,1e{k - 8},," for k in range(1, 17)])
    answer = fen("prices", "plum", "--json", "--as-of", "2026-09-30").json["items"][0]
    ask = answer["ask"]
    assert 0 < ask["low_95"] < ask["level"] < ask["high_95"]


def test_ten_thousand_quotes_in_the_same_second(fen):
    at = "2026-09-05T12:00:00"
    lines = (
        f"{at}.{k:04d}00Z,plum,{2 + (k % 7) / 10:.1f},5,trader {k % 50}" for k in range(10_000)
    )
    fen.take_in(list(lines))
    answer = fen("prices", "plum", "--json", "--as-of", "2026-09-06").json["items"][0]
    assert answer["quotes"] == 10_000
    # one ladder: the cheapest five-unit offer is what a usual lot costs
    assert answer["ask"]["level"] == pytest.approx(2.0, rel=0.02)


def test_a_second_opinion_is_near_the_level_of_a_plain_market(fen):
    prices = [2.0, 2.1, 2.05, 1.95, 2.0, 2.1, 2.02, 2.08, 1.97, 2.04]
    fen.take_in([f"{day(k + 1)},plum,{price},," for k, price in enumerate(prices)])
    asked = ("prices", "plum", "--second-opinion", "--as-of", "2026-09-11")
    answer = fen(*asked, "--json").json["items"][0]
    second, ask = answer["second_opinion"], answer["ask"]
    assert second["looks"] == len(prices)
    assert second["low_95"] < second["level"] < second["high_95"]
    assert second["level"] == pytest.approx(ask["level"], rel=0.03)
    assert "Second opinion: a local level model" in " ".join(fen(*asked).out.split())


def test_too_few_looks_for_a_second_opinion_are_told(fen):
    fen.take_in([f"{day(1)},plum,2,,"])
    answer = fen("prices", "plum", "--second-opinion", "--json")
    assert answer.json["items"][0]["second_opinion"] is None
    told = "no second opinion on plum: its looks are too few to fit a model to: 1"
    assert told in answer.json["cautions"][0]
    assert told in " ".join(answer.err.split())


def test_a_second_opinion_on_everything_is_wrong_use(fen):
    asked = fen("prices", "--second-opinion")
    assert asked.code == 2
    assert asked.is_one_sentence()
