"""The command's answer for one supply at known prices, each quantity summed case by case.

One try uses one frame and makes the piece 1 time in 20, so the use is geometric.
Whatever is missing tomorrow is bought at 2, whatever is left over brings 2 less the
fee of 5 %, falling by 5 % with each usual quantity of 20 that is put up.
"""

from __future__ import annotations

import math

import pytest

ROUTE = """
[route]
makes = "storm lantern"
start = "table"
[[step]]
name = "etch"
from = "table"
uses = { "lantern frame" = 1 }
[step.outcomes]
"storm lantern" = "1 in 20"
"table" = "rest"
"""
SETTINGS = """
money = "shell"
timezone = "UTC"
[trade]
sale_fee = "5 %"
hour_value = HOUR
[[season]]
name = "autumn fair"
start = 2026-09-01
end = 2026-12-20
[item."lantern frame"]
family = "frames"
usual_qty = 20
lots_of = LOTS
"""
NEEDS = [(n, 0.05 * 0.95 ** (n - 1)) for n in range(1, 700)]


def nothing_special(units):
    return 2.0 * units


def all_units(units):
    return units * (1.5 if units >= 60 else 1.7 if units >= 30 else 2.0)


def beyond(units):
    return 2.0 * min(units, 30) + 1.6 * max(units - 30, 0)


def total(qty, *, today, lots_of=1, tied=0.0, trip=0.0, share=1.0, for_use=False):
    """Mean cost; `for_use`: where what is left of today's purchase brings at most 5 % less
    than it cost."""
    sum_of = today(qty) * (1 + tied)
    counts = 0.95 * sum_of / max(qty, 1)
    for need, chance in NEEDS:
        missing = math.ceil(max(need - qty, 0) / lots_of) * lots_of
        left = max(qty - need, 0) + missing - max(need - qty, 0)
        brings = 0.95 * share * 2.0 * (1 - math.exp(-0.0025 * left)) / 0.0025
        if for_use and qty > need:
            brings = min(brings, counts * left)
        sum_of += chance * (2.0 * missing + (trip if missing else 0.0) - brings)
    return sum_of


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), {}),
        (("--tier", "lantern frame=30:1.7,60:1.5"), {"today": all_units}),
        (("--tier-beyond", "lantern frame=0:2,30:1.6"), {"today": beyond}),
        (("--tier", "lantern frame=30:1.7,60:1.5", "--tied-up", "4 %"), {"tied": 0.04}),
        (("--tier", "lantern frame=30:1.7,60:1.5"), {"lots_of": 25}),
        ((), {"trip": 15.0}),
        (("--tier", "lantern frame=30:1.7,60:1.5"), {"share": 3 / 7}),
        (("--tier", "lantern frame=30:1.7,60:1.5"), {"share": 0.0}),
    ],
    ids=["plain", "all units", "beyond", "tied up", "lots", "time lost", "fair ends", "fair over"],
)
def test_every_quantity_summed_case_by_case(workspace, makeworth, words, said):
    hour, lots_of = (90 if "trip" in said else 0), said.get("lots_of", 1)
    text = SETTINGS.replace("HOUR", str(hour)).replace("LOTS", str(lots_of))
    (workspace / "makeworth.toml").write_text(text)
    (workspace / "routes" / "etched.toml").write_text(ROUTE)
    # four whole days before the end: (4 - 1) of the last 7; one day before: none
    day = {3 / 7: "2026-12-16", 0.0: "2026-12-19"}.get(said.get("share"), "2026-10-01")
    run = makeworth(
        *("advise", "stock", "etched", "--json", "--price", "lantern frame=2"),
        *("--as-of", f"{day}T12:00Z", *words),
        cwd=workspace,
    )
    assert run.code == 0, run.err
    (frame,) = run.json["items"]
    today = said.get("today", all_units if words else nothing_special)
    sums = {
        qty: total(qty, today=today, **{k: v for k, v in said.items() if k != "today"})
        for qty in range(0, 300, lots_of)
    }
    more = {k: v for k, v in said.items() if k != "today"}
    used = {qty: total(qty, today=today, for_use=True, **more) for qty in sums}
    best = min(
        min(each, key=lambda qty, each=each: (round(each[qty], 7), qty)) for each in (sums, used)
    )
    assert frame["buy_now"] == best
    assert frame["expected_cost"] == pytest.approx(sums[frame["buy_now"]], rel=1e-6)
    assert frame["chance_short"] == pytest.approx(0.95 ** frame["buy_now"], abs=1e-8)
    for point in frame["curve"]:
        if point["qty"] in sums:
            assert point["expected_cost"] == pytest.approx(sums[point["qty"]], rel=1e-6)
