"""How the table looks on a terminal: the stage, the best step, what lies ahead, what was spent."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from advisor.cli.price_views import moment
from advisor.cli.screen import show, show_sentences, show_table, show_wrapped
from advisor.figures import amount, difference, percent
from advisor.tasks.luck import of_hundred

if TYPE_CHECKING:
    from advisor.book.attempts import Attempt
    from advisor.tasks.following import FollowedPiece, TableView
    from advisor.tasks.table_choices import TableChoice

CHOICES_SHOWN = 30
OTHERS_SHOWN = 6


def show_table_view(piece: FollowedPiece) -> None:
    """Everything that is to know now."""
    view, cost, pricing = piece.view(), piece.cost, piece.pricing
    when = moment(pricing.market.as_of_us, pricing.settings.timezone)
    show_wrapped(f"{cost.route}, piece {view.session.session}; in {cost.money}, prices of {when}")
    show_sentences(table_sentences(view, cost.makes, cost.money), mark="")
    if view.choices:
        show()
        _show_choices(view)
    keys = ["u undo", "q leave"] if view.is_finished else ["u undo", "x put away", "q leave"]
    if view.others:
        keys.insert(-1, "p next piece")
        names = [f"{each.session} at {each.stage}" for each in view.others[:OTHERS_SHOWN]]
        more = len(view.others) - OTHERS_SHOWN
        show_wrapped(f"also open: {'; '.join(names)}{f'; and {more} more' if more > 0 else ''}")
    show("; ".join(keys))


def table_sentences(view: TableView, makes: str, money: str) -> list[str]:
    """The state of a piece in sentences, the most needed first."""
    if view.is_lost:
        return [
            f"stage: {view.stage}, which the route has no longer: its file was changed",
            "Say where the piece is now:",
        ]
    said = [f"stage: {view.stage}" if view.stage is not None else "the evening is over"]
    if view.is_put_away:
        said.append(f"put away: this {makes} is not gone on with")
    elif view.is_finished:
        said.append(f"finished: nothing is left to do for this {makes}")
    else:
        said += _ahead(view, makes)
    said.append(_spent(view, money))
    if view.unplaced:
        said.append(f"{view.unplaced} of these fit no place of the route now and are not counted")
    if view.budget is not None and view.left is not None:
        said.append(_budget(view))
    if view.hour_value and not view.is_finished:
        said.append(
            f"costs ahead count your own time at {amount(view.hour_value)} an hour; what is spent "
            "and the budget are money alone"
        )
    return said


def _ahead(view: TableView, makes: str) -> list[str]:
    said = [f"do: {_does(view)}"]
    if view.to_go is not None:
        said.append(_to_go(view))
    if view.session.goal == "keep" and view.piece_price is not None and view.to_go is not None:
        price = amount(view.piece_price)
        if difference(view.to_go, view.piece_price) > 0:
            said.append(f"STOP: the {makes} costs {price} to buy, less than going on")
        else:
            said.append(f"go on while the cost to go is under {price}, what the {makes} costs")
    return said


def _does(view: TableView) -> str:
    uses = ", ".join(f"{amount(units)} {item}" for item, units in view.uses)
    if view.does == "buy in":
        return f"buy in at {view.step}, with {uses}"
    if view.does == "step":
        return f"{view.step}, with {uses}" if uses else f"{view.step}"
    return view.does or "nothing"


def _to_go(view: TableView) -> str:
    gain = view.session.goal == "sale"
    said = (
        f"{'gain to come' if gain else 'cost to go'}: {_plain(view.to_go or 0.0, gain)} on average"
    )
    if view.to_go_half is None or view.to_go_bad is None:
        return said
    half, bad = _plain(view.to_go_half, gain), _plain(view.to_go_bad, gain)
    if gain:
        return f"{said}; half the time {half} or more, 1 in 20 under {bad}"
    return f"{said}; half the time up to {half}, 1 in 20 over {bad}"


def _plain(cost: float, gain: bool) -> str:
    return amount(-cost if gain else cost)


def _spent(view: TableView, money: str) -> str:
    luck = view.luck
    count = f"{view.attempts} {'attempt' if view.attempts == 1 else 'attempts'}"
    if view.attempts == 0 or luck.expected is None or luck.luckier_than is None:
        return f"spent: {amount(view.spent)} {money} in {count}"
    time = difference(luck.spent, view.spent) if view.hour_value else 0.0
    own = f", and {amount(time)} of your own time" if time > 0 else ""
    both = " with time and all" if own else ""
    return (
        f"spent: {amount(view.spent)} {money} in {count} at today's prices{own}; getting this far "
        f"costs {amount(luck.expected)} on average{both}: luckier than "
        f"{of_hundred(luck.luckier_than)} so far. "
        "It is spent whatever comes; what is best now does not hang on it."
    )


def _budget(view: TableView) -> str:
    left = view.left or 0.0
    said = f"budget: {amount(left)} of {amount(view.budget)} left"
    if view.is_finished:
        return said
    if view.dearest_next is not None and difference(view.dearest_next, left) > 0:
        return (
            f"{said}; STOP here: the next {view.step or view.does} may cost "
            f"{amount(view.dearest_next)}"
        )
    if view.chance_within is not None:
        said += f", enough to finish in {percent(view.chance_within)} of cases"
    if view.dearest_next is not None and view.dearest_next > 0:
        said += f"; stop when less than {amount(view.dearest_next)} is left at this stage"
    return said


def _show_choices(view: TableView) -> None:
    gain = view.session.goal == "sale"
    rows = []
    for each in view.choices[:CHOICES_SHOWN]:
        cost = "" if each.cost is None else amount(each.cost)
        then = "" if each.to_go is None else _plain(each.to_go, gain)
        odds = "" if each.odds is None else percent(each.odds)
        what = say_choice(each)
        if each.cost is not None and each.cost < 0:
            what += f" (brings {amount(-each.cost)})"
        rows.append([each.key, what, odds, cost, then])
    to_go = "gain to come" if gain else "to go then"
    show_table(["key", "what came", "odds", "cost", to_go], rows, right="llrrr")
    if len(view.choices) > CHOICES_SHOWN:
        show(f"... and {len(view.choices) - CHOICES_SHOWN} more; type what is on the table now.")


def say_choice(choice: TableChoice | Attempt) -> str:
    """What came, in words."""
    if choice.action == "step":
        return f"{choice.step}: {choice.reached or choice.outcome}"
    if choice.action == "sell out":
        return "sold out" if choice.reached is None else f"sold out, back to {choice.reached}"
    if choice.action == "buy in":
        return f"bought in at {choice.reached}"
    if choice.action == "moved":
        return f"it is at {choice.reached}"
    return "put away"


say_attempt = say_choice


def view_json(piece: FollowedPiece) -> dict[str, Any]:
    """The state as JSON."""
    from advisor.times import us_to_rfc3339

    view, cost = piece.view(), piece.cost
    return {
        "route": cost.route,
        "makes": cost.makes,
        "for": view.session.goal,
        "money": cost.money,
        "as_of": us_to_rfc3339(piece.pricing.market.as_of_us),
        "session": view.session.session,
        "stage": view.stage,
        "lost": view.is_lost,
        "put_away": view.is_put_away,
        "finished": view.is_finished,
        "best": None if view.does is None else {"action": view.does, "step": view.step},
        "cost_to_go": view.to_go,
        "to_go_quantiles": {"0.5": view.to_go_half, "0.95": view.to_go_bad},
        "attempts": view.attempts,
        "spent": view.spent,
        "own_time": difference(view.luck.spent, view.spent),
        "expected": view.luck.expected,
        "luckier_than": view.luck.luckier_than,
        "within": {"budget": view.budget, "left": view.left, "chance": view.chance_within},
        "buy_piece": view.piece_price,
        "choices": [
            {
                "key": each.key,
                "action": each.action,
                "step": each.step,
                "outcome": each.outcome,
                "stage": each.reached,
                "odds": each.odds,
                "cost": each.cost,
                "cost_to_go": each.to_go,
                "best": each.is_best,
            }
            for each in view.choices
        ],
        "others": [{"session": each.session, "stage": each.stage} for each in view.others],
        "cautions": list(cost.cautions),
    }
