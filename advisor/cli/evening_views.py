"""How the evening's plan looks on a terminal: what to do, what it takes, what else earns."""

from __future__ import annotations

from advisor.cli.price_views import moment
from advisor.cli.screen import show, show_sentences, show_table
from advisor.cli.sell_views import show_earnings
from advisor.figures import amount
from advisor.tasks.evening import Evening

EARNINGS_SHOWN = 12


def show_evening(evening: Evening) -> None:
    """The whole answer."""
    story, pricing = evening.story, evening.pricing
    when = moment(pricing.market.as_of_us, pricing.settings.timezone)
    hours = "1 hour" if story.hours == 1 else f"{amount(story.hours)} hours"
    show(f"The evening: {hours} and {amount(story.budget)} {story.money}; {when}")
    show()
    if evening.planned:
        _show_plan(evening)
    else:
        show("  REST: nothing that fits earns anything on average")
    show()
    show_sentences(evening.reasons)
    show()
    shown = evening.compared[:EARNINGS_SHOWN]
    show_earnings(shown, more=len(evening.compared) - len(shown))
    show()
    show_sentences(evening.cautions, mark="! ")


def _show_plan(evening: Evening) -> None:
    story = evening.story
    rows = [
        [
            each.way.what,
            f"{each.count}",
            amount(each.minutes, digits=3),
            amount(each.spent),
            amount(each.profit),
        ]
        for each in evening.planned
    ]
    rows.append(
        ["together", "", amount(story.minutes, digits=3), amount(story.spent), amount(story.profit)]
    )
    show_table(["do", "times", "minutes", "spent", "profit"], rows, right="lrrrr")
