"""A guide in words, as a careful person writes it: what, how, how much, when to stop."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.figures import amount
from reports.guide_blocks import Block, Bullets, Grid, Heading, Text
from reports.guide_data import Guide, LookRule, PriceBehind, StopPlace
from reports.guide_pool_words import pool_blocks
from reports.guide_step_words import listed, step_blocks, then_words

SURE = ("0.5", "0.8", "0.95")
STANDING = (
    "An average is not a promise: look at the bad night beside it.",
    "Prices are other people's offers and can be bait: look before you pay.",
    "Follow the rules of the game you play; none of this is for trading for real money.",
)


def write_out(guide: Guide) -> list[Block]:
    """The whole guide in order."""
    return [
        *_opening(guide),
        *(pool_blocks(guide.pool) if guide.pool is not None else ()),
        Heading(2, "Step by step"),
        *(block for step in guide.steps for block in step_blocks(step)),
        *_left_out(guide),
        *_rules(guide.pool.rules if guide.pool is not None else ()),
        *_shopping(guide),
        *_cost(guide),
        *_stopping(guide),
        Heading(2, "Keep in mind"),
        Bullets([*(_sentence(each) for each in guide.cautions), *STANDING]),
        *_prices(guide),
    ]


def _opening(guide: Guide) -> list[Block]:
    cost = guide.cost
    makes, money, mean = cost["makes"], cost["money"], cost["cost"]["mean"]
    blocks: list[Block] = [Heading(1, f"How to make: {makes}")]
    if guide.about:
        blocks.append(Text(_sentence(guide.about), "lead"))
    buying = (
        "Nobody is seen selling one."
        if guide.buy_price is None
        else f"Buying one costs {amount(guide.buy_price)} {money}."
    )
    if mean is None:
        blocks.append(Text(f"What it costs has no mean: it can go on without end. {buying}"))
        return blocks
    said = (
        f"Making one {makes} this way costs {amount(mean)} {money} on average, and "
        f"{amount(cost['cost']['quantiles']['0.95'])} or more on a bad night, one in twenty. "
        f"{buying}"
    )
    minutes = cost["minutes"]
    if minutes["mean"]:
        said += (
            f" It takes {amount(minutes['mean'], digits=3)} minutes on average, "
            f"{amount(minutes['quantiles']['0.95'], digits=3)} or more on a long evening."
        )
    rests = f"The way {cost['route']}, at the prices known on {cost['as_of'][:10]}, in {money}."
    return [*blocks, Text(said), Text(rests, "small")]


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."


def _left_out(guide: Guide) -> list[Block]:
    if not guide.unused:
        return []
    said = f"Not on the best way at these prices: {listed(guide.unused)}."
    return [Text(said, "small")]


def _rules(rules: Sequence[LookRule]) -> list[Block]:
    """What to do with what a draw has given."""
    if not rules:
        return []
    *special, rest = rules
    heading = Heading(2, "What to do with what is on the piece")
    if not special:
        return [heading, Text(f"Whatever is on it, short of what is wanted: {_doing(rest)}.")]
    lines = [_rule_words(rule) for rule in special]
    return [heading, Bullets([*lines, f"With anything else on it: {_doing(rest)}."])]


def _doing(rule: LookRule) -> str:
    then = rule.then
    return then.name if then.number is None else f"{then.name} (step {then.number})"


def _rule_words(rule: LookRule) -> str:
    doing = _doing(rule)
    if rule.count == 1:
        return f"With {', '.join([*rule.shared, *rule.pieces])}: {doing}."
    with_these = f"With {' and '.join(rule.shared)}" if rule.shared else "On any piece"
    if not rule.pieces:
        unless = ", unless there is also just " if rule.exceptions else ""
        unless += "; or ".join(rule.exceptions)
        return f"{with_these}, wherever it can be done{unless}: {doing}."
    rare = rule.count - len(rule.pieces)
    more = f"; and {rare} rarer kinds" if rare else ""
    beside = f"{with_these}, and beside it " if rule.shared else "With "
    return f"{beside}{'; '.join(rule.pieces)}{more}: {doing}."


def _shopping(guide: Guide) -> list[Block]:
    cost, money = guide.cost, guide.cost["money"]
    rows = [
        (
            each.item,
            _units(each.mean),
            *(_units(units) for units in each.sure),
            amount(each.unit_price),
            each.note,
        )
        for each in guide.shopping
    ]
    columns = ("item", "on average", *(f"{100 * float(share):g} % sure" for share in SURE))
    after = ["Each line is sure for itself: what is used together runs out together."]
    after += [
        f"Better made than bought: {_units(made['mean'])} {each} on average, by the way "
        f"{made['route']}; its supplies are in the list."
        for each, made in cost["made"].items()
        if made["mean"] != 0
    ]
    back = [
        f"{_units(give['mean'])} {item}"
        + (f" at {amount(give['unit_price'])} each" if give["unit_price"] else "")
        for item, give in cost["gives"].items()
        if give["mean"]
    ]
    if back:
        after.append(f"On average {listed(back)} come back or are sold on the way.")
    return [
        Heading(2, "Shopping list for one"),
        Grid((*columns, f"each ({money})", ""), rows, figures=range(1, 6)),
        Text(" ".join(after), "small"),
    ]


def _units(count: float | None) -> str:
    return amount(count, digits=3)


def _cost(guide: Guide) -> list[Block]:
    cost, money = guide.cost["cost"], guide.cost["money"]
    shares = ("0.25", "0.5", "0.8", "0.9", "0.95", "0.99")
    limits = [amount(cost["quantiles"][share]) for share in shares]
    said = (
        f"Set a limit before you start, and stop there. {limits[2]} {money} is enough in 8 of 10 "
        f"cases and {limits[4]} in 19 of 20"
    )
    worst = cost["shortfall_95"]
    said += "." if worst is None else f"; the worst 1 in 20 cost {amount(worst)} on average."
    return [
        Heading(2, "What it costs today"),
        Grid(
            ("enough in so many of 100", *(f"{100 * float(share):g}" for share in shares)),
            [(f"{money}", *limits)],
            figures=range(1, 7),
        ),
        Text(said),
    ]


def _stopping(guide: Guide) -> list[Block]:
    money = guide.cost["money"]
    blocks: list[Block] = [Heading(2, "Where one may stop or sell")]
    if guide.stops:
        blocks.append(
            Grid(
                ("at", "sold as", "brings", "bought for", "still to pay", "best there"),
                [_stop_row(each) for each in guide.stops],
                figures=(2, 3, 4),
            )
        )
        said = f"Money in {money}; what a sale brings is after the fee."
    else:
        said = "Nothing on the way can be sold as it is: who stops keeps only what comes back."
    if guide.sell_price is not None:
        said += f" The finished piece brings {amount(guide.sell_price)} {money} after the fee."
    said += (
        " The odds do not remember what was spent: at every stage only what is still to pay "
        "counts, and your limit."
    )
    return [*blocks, Text(said)]


def _stop_row(stop: StopPlace) -> tuple[str, ...]:
    doing = "it is made" if stop.then is None else then_words(stop.then)
    if stop.begin_here:
        doing = f"begin here by buying; then {doing}"
    prices = (stop.sells_for, stop.bought_for, stop.still_to_pay)
    return (stop.stage, stop.item, *(amount(each) for each in prices), doing)


def _prices(guide: Guide) -> list[Block]:
    cost = guide.cost
    return [
        Heading(2, "The prices it rests on"),
        Grid(
            ("item", f"one ({cost['money']})", "quotes", "newest (UTC)"),
            [_price_row(each) for each in guide.prices],
            figures=(1, 2),
        ),
        Text(
            f"As known on {cost['as_of'][:16].replace('T', ' ')} UTC. Prices move: look again "
            "before you buy much. Written by Makeworth from quotes that its user has seen.",
            "small",
        ),
    ]


def _price_row(each: PriceBehind) -> tuple[str, ...]:
    if each.made_by is not None:
        return (each.item, amount(each.price), "", f"made by {each.made_by}")
    newest = "money" if each.newest is None else each.newest[:16].replace("T", " ")
    return (each.item, amount(each.price), str(each.quotes) if each.quotes else "", newest)
