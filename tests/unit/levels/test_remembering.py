import numpy as np
import pytest

from advisor.levels import remembering
from advisor.levels.market import level_market, prices_json
from advisor.levels.series import ItemSettings, MarketSettings, Season, make_series

DAY = 86_400_000_000
NOW = 30 * DAY
FAMILIES = {"frame": "frames", "beam": "frames", "wax": "waxes", "glass": None, "sand": None}


class Memory:
    """A memory in a dictionary that notes which families were learned anew."""

    def __init__(self):
        self.known, self.learned = {}, []

    def recall(self, fingerprints):
        return {each: self.known[each] for each in fingerprints if each in self.known}

    def keep(self, learned):
        self.learned.append(sorted(family for family, _ in learned.values()))
        self.known |= {print_: row for print_, (_, row) in learned.items()}


def invent(money="shell"):
    rng = np.random.default_rng(5)
    market = {
        name: make_series(
            name,
            np.exp(rng.normal(1.0, 0.1, 15)),
            at_us=np.sort(rng.integers(0, 20 * DAY, 15)),
            money=money if name == "wax" else "shell",
            trader=rng.integers(0, 3, 15),
            first_id=100 * number,
        )
        for number, name in enumerate(FAMILIES)
    }
    rate = make_series("crown", [40.0, 42.0], at_us=[0, 10 * DAY], money="shell", first_id=900)
    return market | {"crown": rate}


def settings(**changes):
    items = {name: ItemSettings(family) for name, family in FAMILIES.items()}
    return MarketSettings("shell", **({"items": items} | changes))


def answer(series, memory, *, said=None, now=NOW):
    market = level_market(series, settings=said or settings(), as_of_us=now, memory=memory)
    return prices_json(market)


def test_an_unchanged_market_is_never_fitted_again(monkeypatch):
    memory, series = Memory(), invent()
    first = answer(series, memory)

    def refuse(*_, **__):
        raise AssertionError("it was fitted again")

    monkeypatch.setattr(remembering, "follow_market", refuse)
    assert answer(series, memory) == first
    # at a later moment too: from what was known after the last quote
    later = answer(series, memory, now=NOW + 9 * DAY)
    monkeypatch.undo()
    assert later == answer(series, None, now=NOW + 9 * DAY)


@pytest.mark.parametrize(
    ("item", "again"), [("frame", ["frames"]), ("wax", ["waxes"]), ("sand", ["sand, alone"])]
)
def test_a_new_quote_has_its_family_learned_again_and_no_other(item, again):
    memory, series = Memory(), invent()
    answer(series, memory)
    old = series[item]
    series[item] = make_series(
        item, [*old.price, 3.0], at_us=[*old.at_us, 25 * DAY], money="shell", first_id=5000
    )
    assert answer(series, memory) == answer(series, None)
    assert memory.learned[1:] == [again]


def test_a_new_rate_touches_what_is_priced_in_it_and_itself():
    memory, series = Memory(), invent(money="crown")
    answer(series, memory)
    series["crown"] = make_series(
        "crown", [40.0, 42.0, 50.0], at_us=[0, 10 * DAY, 18 * DAY], money="shell", first_id=900
    )
    assert answer(series, memory) == answer(series, None)
    assert "crown, alone" in memory.learned[1]
    assert "waxes" in memory.learned[1]


@pytest.mark.parametrize(
    "changes",
    [
        {"kept": frozenset({3})},
        {"dropped": frozenset({3})},
        {"own": frozenset({3})},
        {"seasons": [Season("fair", 0, 20 * DAY)]},
        {"items": {"frame": ItemSettings("frames", usual_qty=7)}},
    ],
)
def test_what_the_user_settles_has_it_learned_again(changes):
    memory, series = Memory(), invent()
    answer(series, memory)
    said = settings(**changes)
    assert answer(series, memory, said=said) == answer(series, None, said=said)
    assert len(memory.learned) == 2


def test_the_fee_needs_no_learning():
    memory, series = Memory(), invent()
    answer(series, memory)
    said = settings(sale_fee=0.1)
    assert answer(series, memory, said=said) == answer(series, None, said=said)
    assert len(memory.learned) == 1


@pytest.mark.parametrize("harm", [lambda row: row[:-3], lambda row: b"x" + row[1:], lambda _: b""])
def test_a_damaged_memory_is_learned_anew(harm):
    memory, series = Memory(), invent()
    first = answer(series, memory)
    memory.known = {print_: harm(row) for print_, row in memory.known.items()}
    assert answer(series, memory) == first
    assert memory.learned[0] == memory.learned[1]


def test_another_version_of_the_code_learns_anew(monkeypatch):
    memory, series = Memory(), invent()
    answer(series, memory)
    monkeypatch.setattr(remembering, "_code_digest", lambda: b"another")
    answer(series, memory)
    assert memory.learned[0] == memory.learned[1]


@pytest.mark.parametrize("seed", range(8))
def test_what_is_learned_of_a_family_never_hangs_on_who_is_followed_beside_it(seed):
    rng = np.random.default_rng(seed)
    family = {f"item {k}": f"family {rng.integers(0, 4)}" for k in range(rng.integers(2, 9))}
    seasons = [Season("spring", 0, 40 * DAY), Season("autumn", 40 * DAY, 90 * DAY)]
    said = MarketSettings(
        "shell",
        items={item: ItemSettings(own) for item, own in family.items()},
        seasons=seasons if seed % 2 else (),
    )
    series = {}
    for number, item in enumerate(family):
        quotes = int(rng.choice([1, 2, 3, 10, 40, 120]))
        series[item] = make_series(
            item,
            np.exp(0.2 * np.cumsum(rng.normal(0, 1, quotes))),
            at_us=np.sort(rng.integers(0, 80 * DAY, quotes)),
            money="shell",
            side=rng.choice([0, 0, 0, 1, 2], quotes).tolist(),
            trader=rng.integers(-1, 3, quotes),
            first_id=1000 * number,
        )
    whole = level_market(series, settings=said, as_of_us=82 * DAY)
    for each in set(family.values()):
        own = {item: quotes for item, quotes in series.items() if family[item] == each}
        part = level_market(own, settings=said, as_of_us=82 * DAY)
        assert prices_json(part, list(own)) == prices_json(whole, list(own))
