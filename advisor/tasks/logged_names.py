"""What is typed with a log: names as the book spells them, moments, numbers, prices."""

from __future__ import annotations

from fractions import Fraction
from typing import TYPE_CHECKING

from advisor.book.items import known_names
from advisor.errors import BadInput, CannotAnswer
from advisor.money import read_amount, read_number, read_percent, read_price
from advisor.names import name_key
from advisor.times import now_us, read_time

if TYPE_CHECKING:
    from advisor.book.store import Store
    from advisor.levels.rates import Rates
    from advisor.tasks.workspace import Workspace


class LoggedNames:
    """Reads what is typed against what the book knows.

    Attributes:
        notes: What the user should know, such as which names are new.
    """

    def __init__(self, workspace: Workspace, store: Store, *, allow_new: bool = False) -> None:
        from importers.names import NameBook

        self.settings = workspace.settings
        self.known = known_names(store, workspace.settings)
        self.notes: list[str] = []
        self.store = store
        self._now = now_us()
        self._rates: Rates | None = None
        self._book = NameBook({} if allow_new else self.known)
        self._traders = {
            name_key(name): name for (name,) in store.connection.execute("SELECT name FROM traders")
        }

    def item(self, typed: str) -> str:
        """The item's name; one that is new is noted, one that is perhaps a slip refused.

        Raises: BadInput: no name, or a slip.
        """
        known = self.known.get(name_key(typed))
        if known is not None:
            return known
        spelled, fault = self._book.spell(typed)
        if fault == "near name":
            raise BadInput(
                f"the book knows no item {typed!r}",
                right=f'did you mean "{self._book.near[typed]}"? If it is its own, add --new',
            )
        if spelled is None:
            raise BadInput(f"{typed!r} is no name of an item: {fault}")
        self.known[name_key(typed)] = spelled
        self.notes.append(f'"{spelled}" is new to the book, as an item')
        return spelled

    def money(self, typed: str | None, *, at_us: int) -> str:
        """The money's name; it must have a rate to the workspace money.

        Raises: CannotAnswer: no rate leads there.
        """
        home = self.settings.money
        if typed is None or name_key(typed) == name_key(home):
            return self.known[name_key(home)]
        name = self.known.get(name_key(typed))
        if name is None or not self._has_value(name, at_us):
            raise CannotAnswer(
                f"no rate leads from {typed!r} to {home}, so it cannot be valued",
                right=f'quote one: makeworth quote "{typed} PRICE"',
            )
        return name

    def _has_value(self, money: str, at_us: int) -> bool:
        """Whether it has a rate, or is quoted in a money that has one."""
        from advisor.book.series import read_series
        from advisor.tasks.money_rates import rate_at, read_money_rates

        if self._rates is None:
            self._rates = read_money_rates(self.store, self.settings)
        series = read_series(self.store, [money]).get(money)
        quoted_in = () if series is None else series.money_names
        return any(rate_at(self._rates, each, at_us) is not None for each in (money, *quoted_in))

    def trader(self, typed: str | None) -> str | None:
        """The trader's name.

        Raises: BadInput: no name.
        """
        if typed is None:
            return None
        return self._traders.get(name_key(typed)) or self.text(typed, "trader")

    def text(self, typed: str | None, what: str) -> str | None:
        """A text that is one: not empty, no control characters."""
        from importers.names import name_fault

        if typed is None:
            return None
        fault = name_fault(typed)
        if fault is not None and fault != "formula":
            raise BadInput(f"the {what} {typed!r} is none: {fault}")
        return " ".join(typed.split())

    def moment(self, typed: str | None) -> int:
        """When; now where nobody said.

        Raises: BadInput: no moment.
        """
        if typed is None:
            return self._now
        order = self.settings.date_order
        moment = read_time(typed, self.settings.timezone, order=None if order == "ask" else order)
        if moment.taken is not None:
            self.notes.append(moment.taken)
        return moment.at_us

    def fee(self, typed: str | None, total: Fraction, money: str) -> Fraction:
        """What a sale loses to the market: a share, an amount, or what the settings say.

        Raises: BadInput: no amount, one in another money, or more than the sale brings.
        """
        if typed is None:
            return total * self.settings.trade.sale_fee
        if typed.strip().endswith("%"):
            return total * read_percent(typed)
        fee, named = read_amount(typed)
        if named is not None and self.known.get(name_key(named)) != money:
            raise BadInput(f"the fee is in {named!r}, the price in {money!r}", right='"5 %"')
        if fee > total:
            raise BadInput(f"the fee {typed!r} is more than the sale brings")
        return fee


def read_units(typed: str) -> Fraction:
    """A count of units as typed, over 0.

    Raises: BadInput: no number, or 0.
    """
    units = read_number(typed)
    if units == 0:
        raise BadInput(f"{typed!r} units are none", right="a number over 0")
    if units > 10**12:
        raise BadInput(f"{typed!r} units are out of range", right=f"up to {10**12}")
    return units


def read_unit_price(typed: str, said_money: str | None) -> tuple[Fraction, str | None]:
    """The price of one unit, and the money it names or that was said beside it.

    Raises: BadInput: no price; two moneys.
    """
    price = read_price(typed)
    if price.money and said_money and name_key(price.money) != name_key(said_money):
        raise BadInput(f"the price names {price.money!r}, the money given is {said_money!r}")
    return price.price, price.money or said_money
