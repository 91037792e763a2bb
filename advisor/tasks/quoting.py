"""Takes down prices typed by hand: one, several, a ladder, or pasted lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from advisor.errors import BadInput, WrongUse
from advisor.money import DecimalMark, Unreadable, read_price
from advisor.names import name_key
from advisor.quotes import Quote, price_text
from advisor.tasks.chat_lines import has_clock
from advisor.tasks.pasted_table import is_table, read_table
from advisor.tasks.quote_lines import LineReader, TypedQuote, decide_line_decimal
from advisor.times import now_us, read_time, us_to_local, us_to_rfc3339

if TYPE_CHECKING:
    from advisor.book.store import Store
    from advisor.tasks.workspace import Workspace

NO_DAY = "a time in brackets names no day: the prices count as seen now; --at TIME says when"


@dataclass(frozen=True)
class QuoteChoices:
    """What is said once for all quotes of a call; None where nothing was.

    Attributes:
        at: As typed; None: now.
        allow_new: Names that look like a slip of a known one are meant as they are.
    """

    qty: int | None = None
    side: str | None = None
    money: str | None = None
    trader: str | None = None
    at: str | None = None
    source: str | None = None
    note: str | None = None
    decimal: DecimalMark | None = None
    date_order: str | None = None
    allow_new: bool = False


@dataclass(frozen=True)
class UnreadLine:
    """A pasted line that was not taken down, and why."""

    line: int
    text: str
    why: str


@dataclass(frozen=True)
class QuoteReport:
    """What came of quotes typed by hand.

    Attributes:
        batch: Its number; None where nothing was taken down.
        notes: Sentences for the user, such as which names are new.
    """

    batch: int | None
    added: int
    known: int
    quotes: Sequence[Quote]
    unread: Sequence[UnreadLine]
    notes: Sequence[str]

    def to_json(self) -> dict[str, Any]:
        """The answer of `quote --json`."""
        return {
            "batch": self.batch,
            "added": self.added,
            "known": self.known,
            "quotes": [_quote_json(quote) for quote in self.quotes],
            "unread": [
                {"line": each.line, "text": each.text, "why": each.why} for each in self.unread
            ],
            "notes": list(self.notes),
        }


def take_quotes(
    workspace: Workspace, arguments: Sequence[str], choices: QuoteChoices
) -> QuoteReport:
    """Take down what the arguments say: all of them, or none.

    Args:
        arguments: Whole lines; or an item and its price; or an item and the rungs
            of a ladder ("2.4x60" "2.5x20").
    Raises: BadInput: one that cannot be read, a name that is perhaps a slip.
    """
    with workspace.open_book() as store:
        names = _Names(workspace, store, choices)
        typed = _read_arguments(arguments, names.known, choices)
        at_us = _moment(workspace, choices, names.notes)
        quotes = [names.quote(each, at_us=at_us) for each in typed]
        return _keep(store, quotes, unread=[], notes=names.notes)


def take_pasted(workspace: Workspace, text: str, choices: QuoteChoices) -> QuoteReport:
    """Take down pasted lines; the ones that cannot be read are named, the others kept.

    Raises: BadInput: nothing was pasted; numbers that stay open.
    """
    lines = [(number, line) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not lines:
        raise BadInput("nothing was pasted", right="give the lines on standard input")
    if is_table(text):
        return _take_table(workspace, text, choices)
    decimal = decide_line_decimal(
        [line for _, line in lines],
        told=choices.decimal,
        points_are_decimal=False,
        line_numbers=[number for number, _ in lines],
    )
    with workspace.open_book() as store:
        names = _Names(workspace, store, choices)
        reader = LineReader(names.known, decimal)
        at_us = _moment(workspace, choices, names.notes)
        quotes: list[Quote] = []
        unread = []
        for number, line in lines:
            try:
                quotes += [names.pasted_quote(each, at_us=at_us) for each in reader.read(line)]
            except BadInput as fault:
                unread.append(UnreadLine(number, line, _why(fault)))
        if choices.at is None and any(has_clock(line) for _, line in lines):
            names.notes.append(NO_DAY)
        return _keep(store, quotes, unread=unread, notes=names.notes)


def _take_table(workspace: Workspace, text: str, choices: QuoteChoices) -> QuoteReport:
    """Take down rows pasted with their header; what was said fills what they leave out."""
    from importers.reading import ReadOptions

    with workspace.open_book() as store:
        names = _Names(workspace, store, choices)
        order = choices.date_order or workspace.settings.date_order
        options = ReadOptions(
            money=choices.money or workspace.settings.money,
            at_us=_moment(workspace, choices, names.notes),
            zone=workspace.settings.timezone,
            date_order=None if order == "ask" else order,
            decimal=choices.decimal,
            money_is_said=choices.money is not None,
            at_is_said=choices.at is not None,
            side=choices.side,
            date_order_is_said=choices.date_order is not None,
        )
        table = read_table(text, options, known={} if choices.allow_new else names.known)
        quotes = [
            replace(
                quote,
                item=names.known.get(name_key(quote.item), quote.item),
                money=names.known.get(name_key(quote.money), quote.money),
                qty=quote.qty or choices.qty,
                trader=quote.trader or _checked(choices.trader, "--trader"),
                source=quote.source or _checked(choices.source, "--source"),
                note=quote.note or _checked(choices.note, "--note"),
            )
            for quote in table.quotes
        ]
        unread = [
            UnreadLine(row.line, row.text, f"{row.column or 'the row'}: {row.reason}")
            for row in table.set_aside
        ]
        return _keep(store, quotes, unread=unread, notes=[*names.notes, *table.notes])


class _Names:
    """Names as the book spells them; a name that is perhaps a slip is refused."""

    def __init__(self, workspace: Workspace, store: Store, choices: QuoteChoices) -> None:
        from advisor.book.items import known_names
        from importers.names import NameBook

        self.known: Mapping[str, str] = known_names(store, workspace.settings)
        self.notes: list[str] = []
        self._choices = choices
        self._workspace_money = workspace.settings.money
        self._book = NameBook({} if choices.allow_new else self.known)
        self._new: set[str] = set()

    def pasted_quote(self, typed: TypedQuote, *, at_us: int) -> Quote:
        """As `quote`; a word behind the price that is no known money is not taken for one."""
        money = typed.money
        if money and name_key(money) not in self.known and not self._choices.allow_new:
            raise BadInput(f"the book knows no money {money!r}", right="if it is one, add --new")
        return self.quote(typed, at_us=at_us)

    def quote(self, typed: TypedQuote, *, at_us: int) -> Quote:
        """The quote that was typed, with what was said for all of the call."""
        said = self._choices
        if typed.money and said.money and name_key(typed.money) != name_key(said.money):
            raise WrongUse(f"the price names {typed.money!r}, --money {said.money!r}")
        if typed.qty is not None and said.qty is not None and typed.qty != said.qty:
            raise WrongUse(f"the line says {typed.qty} units, --qty {said.qty}")
        if typed.side and said.side and typed.side != said.side:
            raise WrongUse(f"the line says {typed.side}, --side {said.side}")
        item = self._spelled(typed.item, what="item")
        money = self._spelled(typed.money or said.money or self._workspace_money, what="money")
        if item == money:
            raise BadInput(f"{item} is priced in itself", right="say in which other: --money ITEM")
        if typed.taken:
            self.notes.append(typed.taken)
        return Quote(
            at_us=at_us,
            item=item,
            price=typed.price,
            money=money,
            side=typed.side or said.side or "ask",
            qty=typed.qty or said.qty,
            trader=typed.trader or _checked(said.trader, "--trader"),
            source=_checked(said.source, "--source"),
            note=_checked(said.note, "--note"),
        )

    def _spelled(self, name: str, *, what: str) -> str:
        known = self.known.get(name_key(name))
        if known is not None:
            return known
        spelled, fault = self._book.spell(name)
        if fault == "near name":
            near = self._book.near[name]
            raise BadInput(
                f"the book knows no {what} {name!r}",
                right=f'did you mean "{near}"? If it is a name of its own, add --new',
            )
        if spelled is None:
            raise BadInput(f"{name!r} is no name of an {what}: {fault}")
        if name_key(name) not in self._new:
            self._new.add(name_key(name))
            self.notes.append(f'"{spelled}" is new to the book, as {_article(what)}')
        return spelled


def _read_arguments(
    arguments: Sequence[str], known: Mapping[str, str], choices: QuoteChoices
) -> list[TypedQuote]:
    """Whole lines, or an item followed by its price or its rungs."""
    decimal = decide_line_decimal(arguments, told=choices.decimal, points_are_decimal=True)
    reader = LineReader(known, decimal)
    item, *prices = arguments
    if prices and (name_key(item) in known or not _reads_as_line(item, reader)):
        typed = _item_and_prices(item, prices, reader)
        if typed is not None:
            return typed
        if len(prices) == 1 and not _reads_as_line(prices[0], reader):
            read_price(prices[0], decimal)  # says what is wrong with it
    return [quote for line in arguments for quote in reader.read(line)]


def _reads_as_line(text: str, reader: LineReader) -> bool:
    try:
        reader.read(text)
    except BadInput:
        return False
    return True


def _item_and_prices(
    item: str, prices: Sequence[str], reader: LineReader
) -> list[TypedQuote] | None:
    """The item at one price, or its ladder; None where the rest are no prices."""
    reader.refuse_odd_name(item, " ".join([item, *prices]))
    try:
        rungs = [reader.rung(item, text) for text in prices]
        if all(rung is not None for rung in rungs):
            return [rung for rung in rungs if rung is not None]
        if len(prices) > 1:
            return None
        price = read_price(prices[0], reader.decimal)
    except Unreadable as fault:
        if len(prices) == 1 and not any(letter.isalpha() for letter in prices[0]):
            raise
        if fault.reason == "not a number":
            return None
        raise
    return [TypedQuote(item, price.price, money=price.money)]


def _moment(workspace: Workspace, choices: QuoteChoices, notes: list[str]) -> int:
    """When the prices were seen; what is odd about that goes to the notes."""
    now = now_us()
    if choices.at is None:
        return now
    zone = workspace.settings.timezone
    order = choices.date_order or workspace.settings.date_order
    typed = read_time(choices.at, zone, order=None if order == "ask" else order)
    if typed.taken:
        notes.append(typed.taken)
    if typed.at_us > now:
        notes.append(
            f"{us_to_local(typed.at_us, zone)} is later than now: "
            "no answer knows of it before that time"
        )
    return typed.at_us


def _checked(text: str | None, option: str) -> str | None:
    """Text given with an option: not empty, no control characters."""
    from importers.names import name_fault

    if text is None:
        return None
    fault = name_fault(text)
    if fault is not None and fault != "formula":
        raise BadInput(f"{option} {text!r}: {fault}")
    return " ".join(text.split())


def _keep(
    store: Store, quotes: Sequence[Quote], *, unread: Sequence[UnreadLine], notes: Sequence[str]
) -> QuoteReport:
    from advisor.book.batches import add_quotes

    if not quotes:
        return QuoteReport(None, 0, 0, quotes, unread, [])
    result = add_quotes(store, quotes)
    return QuoteReport(result.batch, result.added, result.known, quotes, unread, notes)


def _why(fault: BadInput) -> str:
    return fault.what if fault.right is None else f"{fault.what}; {fault.right}"


def _article(what: str) -> str:
    return "an item" if what == "item" else "a money"


def _quote_json(quote: Quote) -> dict[str, Any]:
    return {
        "at": us_to_rfc3339(quote.at_us),
        "item": quote.item,
        "price": price_text(quote.price),
        "money": quote.money,
        "side": quote.side,
        "qty": quote.qty,
        "trader": quote.trader,
        "source": quote.source,
        "note": quote.note,
    }
