"""Whatever is logged, taken back and logged again: counts are those of what stands."""

from __future__ import annotations

from collections import Counter

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from advisor.book.attempts import Attempt, add_attempts, list_attempts, read_tries, undo_entry
from advisor.book.store import open_store
from advisor.decide.table_moves import trace_moves
from advisor.routes.build import build_stages
from advisor.routes.read import read_route

ROUTE = """
[route]
makes = "lamp"
[[step]]
name = "take"
from = "table"
to = "bare"
[[step]]
name = "etch"
from = "bare"
[step.outcomes]
marked = "20 %"
table = "rest"
[[step]]
name = "seal"
from = "marked"
[step.outcomes]
lamp = "50 %"
bare = "20 %"
table = "rest"
"""
OUTCOMES = [
    ("take", "bare"), ("etch", "marked"), ("etch", "table"),
    ("seal", "lamp"), ("seal", "bare"), ("seal", "table"),
]  # fmt: skip
attempts = st.builds(
    lambda at, pair, tries: Attempt(
        at, "lamp", step=pair[0], outcome=pair[1], reached=pair[1], tries=tries
    ),
    st.integers(0, 100),
    st.sampled_from(OUTCOMES),
    st.integers(1, 500),
)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.lists(attempts, min_size=1, max_size=4), st.booleans()), max_size=8),
    st.integers(-1, 101),
)
def test_counts_are_those_of_entries_that_stand_by_the_moment(tmp_path_factory, entries, until):
    wanted = Counter()
    with open_store(tmp_path_factory.mktemp("book") / "book.db", create=True) as store:
        for log, undone in entries:
            entry = add_attempts(store, log)
            if undone:
                assert undo_entry(store, entry) == sum(each.tries for each in log)
                continue
            for each in log:
                if each.at_us <= until:
                    wanted[each.step, each.outcome] += each.tries
        known = read_tries(store, until_us=until).get("lamp", {})
        assert {pair: sum(counts.values()) for pair, counts in known.items()} == dict(wanted)
        listed = list_attempts(store, route="lamp", until_us=until)
    assert [each.at_us for each in listed] == sorted(each.at_us for each in listed)
    assert sum(each.tries for each in listed) == wanted.total()


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(log=st.lists(attempts, max_size=12), order=st.randoms())
def test_pieces_begun_are_pieces_that_stand_somewhere(tmp_path, log, order):
    file = tmp_path / "lamp.toml"
    file.write_text(ROUTE)
    model = build_stages(read_route(file), goal="keep", money="shell")
    moves = trace_moves(model, log, sessions={1: "table"})
    assert moves.begun.total() == moves.standing.total()
    assert min([*moves.begun.values(), *moves.standing.values()], default=0) >= 0
    assert not moves.unplaced
    logged = sum(each.tries for each in log)
    assert moves.outcomes.total() >= logged
    if log:
        shuffled = log[:-1]
        order.shuffle(shuffled)
        assert trace_moves(model, [*shuffled, log[-1]], sessions={1: "table"}) == moves
