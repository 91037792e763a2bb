"""What a whole file decides for its cells: the decimal mark and the order of dates.

Never decided by one cell for itself: a cell that could be meant in two ways is
read as the file's other cells say, and where they say nothing the file is
refused with both readings.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from advisor.errors import BadInput
from advisor.figures import counted
from advisor.money import DecimalMark, decimal_evidence, two_readings
from advisor.times import ORDERS, date_orders, dated, same_in_every_order

if TYPE_CHECKING:
    import polars as pl

Cells = Callable[[], Iterator["pl.DataFrame"]]

# Cells that settle it at a glance, without being looked at one by one.
PLAIN_POINT = r"^[0-9]+\.(?:[0-9]{1,2}|[0-9]{4,12})$"
PLAIN_COMMA = r"^[0-9]+,(?:[0-9]{1,2}|[0-9]{4,12})$"
NO_MARK = r"^[^.,]*$"
NO_THREE_NUMBERS = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}(?:[T ]|$)|^[0-9]*(?:\.[0-9]*)?$"


@dataclass
class Spelling:
    """What the file has decided so far.

    Attributes:
        decimal, order: The user's word, which nothing overrules, or the file's.
        all_cells: Goes through the whole file again: frames with columns line,
            price and at (where the file has it), as text.
        open_points_are_decimal: The form of the file settles what no cell does: a
            point is for decimals ("1.250" is one and a quarter).
    """

    all_cells: Cells
    decimal: DecimalMark | None = None
    order: str | None = None
    open_points_are_decimal: bool = False
    notes: list[str] = field(default_factory=list)
    _told: dict[str, tuple[int, str]] = field(default_factory=dict)
    _misfits: dict[str, tuple[int, int, str]] = field(default_factory=dict)

    def decimal_for(self, frame: pl.DataFrame) -> DecimalMark | None:
        """The decimal mark for the prices of this part; None where none of them has a mark.

        Raises: BadInput: the file says both, or nothing while a cell could be both.
        """
        if self.decimal is not None:
            return self.decimal
        self._gather(frame)
        settled = self._settled()
        if settled is None and self._is_open():
            for part in self.all_cells():
                self._gather(part)
                settled = self._settled()
                if settled is not None:
                    return settled
            if not self.open_points_are_decimal or "open comma" in self._told:
                raise self._open_decimal()
            self.decimal = "point"
        return settled or self.decimal

    def order_for(self, frame: pl.DataFrame) -> str | None:
        """The order of the dates of this part; None where none of them needs one.

        Raises: BadInput: the file says two, or leaves it open.
        """
        dates = _three_numbers(frame)
        if self.order is None and dates.height:
            self.order = self._decide_order()
        elif self.order is not None:
            self._gather_misfits(frame, dates, self.order)
        return self.order

    def note_other_order(self) -> None:
        """Note the dates that are none in the order that was said, but are in another.

        To be called at the end of the file.
        """
        for order, (count, line, text) in self._misfits.items():
            are, them = ("is", "it") if count == 1 else ("are", "them")
            self.notes.append(
                f"{counted(count, 'date')} {are} none as {self.order} but would be as {order}, "
                f"such as {text!r} in line {line}: if the file means {order}, take the batch "
                f"back and import it with --date-order {order}; else correct {them}"
            )

    def _gather_misfits(self, frame: pl.DataFrame, dates: pl.DataFrame, order: str) -> None:
        """Count the rows whose dates can only be read in another order."""
        misfits: dict[str, list[tuple[int, str]]] = {}
        for line, text in dates.iter_rows():
            orders = date_orders(text)
            if orders and order not in orders:
                misfits.setdefault(min(orders, key=ORDERS.index), []).append((line, text))
        for other, found in misfits.items():
            count, line, text = self._misfits.get(other, (0, *found[0]))
            rows = int(frame["at"].is_in([each for _, each in found]).sum())
            self._misfits[other] = count + rows, line, text

    def _settled(self) -> DecimalMark | None:
        if "point" in self._told and "comma" in self._told:
            (line, point), (other_line, comma) = self._told["point"], self._told["comma"]
            raise BadInput(
                f"{point!r} in line {line} has a decimal point, "
                f"{comma!r} in line {other_line} a decimal comma",
                right="say which is meant: --decimal point or --decimal comma",
                column="price",
            )
        if "point" in self._told:
            return "point"
        return "comma" if "comma" in self._told else None

    def _is_open(self) -> bool:
        return "open point" in self._told or "open comma" in self._told

    def _gather(self, frame: pl.DataFrame) -> None:
        """Note the first cell of each kind of evidence."""
        import polars as pl

        price = pl.col("price")
        marked = frame.select("line", "price").filter(
            price.is_not_null() & ~price.str.contains(NO_MARK)
        )
        plain_point = marked.filter(price.str.contains(PLAIN_POINT))
        plain_comma = marked.filter(price.str.contains(PLAIN_COMMA))
        for told, part in (("point", plain_point), ("comma", plain_comma)):
            if part.height:
                self._told.setdefault(told, part.row(0))
        rest = marked.filter(
            ~price.str.contains(PLAIN_POINT) & ~price.str.contains(PLAIN_COMMA)
        ).unique("price", keep="first", maintain_order=True)
        for line, text in rest.iter_rows():
            kind: str | None = decimal_evidence(text) if len(text) < 100 else None
            if kind == "open":
                kind = "open comma" if "," in text else "open point"
            if kind is not None:
                self._told.setdefault(kind, (line, text))

    def _open_decimal(self) -> BadInput:
        line, text = self._told.get("open comma") or self._told["open point"]
        return BadInput(
            f"{text!r} could be {two_readings(text)}, and no other price decides it",
            right="say which is meant: --decimal point or --decimal comma",
            line=line,
            column="price",
        )

    def _decide_order(self) -> str:
        possible = set(ORDERS)
        first_ambiguous: tuple[int, str] | None = None
        decider: tuple[int, str] | None = None
        for part in self.all_cells():
            for line, text in _three_numbers(part).iter_rows():
                orders = date_orders(text)
                if not orders:
                    continue
                if not possible & orders:
                    raise _two_orders(decider or (line, text), (line, text))
                if len(possible & orders) < len(possible) and len(orders) < len(ORDERS):
                    decider = (line, text)
                possible &= orders
                if first_ambiguous is None and len(orders) > 1 and not same_in_every_order(text):
                    first_ambiguous = (line, text)
        if len(possible) > 1 and first_ambiguous is not None:
            raise _open_order(*first_ambiguous, possible)
        order = min(possible, key=ORDERS.index)
        if first_ambiguous is not None and decider is not None:
            self.notes.append(
                f"dates are read as {order}, decided by {decider[1]!r} in line {decider[0]}"
            )
        return order


def _three_numbers(frame: pl.DataFrame) -> pl.DataFrame:
    """The distinct dates of three numbers, year not first."""
    import polars as pl

    if "at" not in frame.columns or frame.schema["at"] != pl.String:
        return pl.DataFrame({"line": [], "at": []})
    at = pl.col("at")
    odd = frame.select("line", "at").filter(at.is_not_null() & ~at.str.contains(NO_THREE_NUMBERS))
    odd = odd.unique("at", keep="first", maintain_order=True)
    is_three = [bool(date_orders(text)) for text in odd["at"].to_list()]
    return odd.filter(pl.Series(is_three, dtype=pl.Boolean))


def _two_orders(decider: tuple[int, str], against: tuple[int, str]) -> BadInput:
    return BadInput(
        f"{decider[1]!r} in line {decider[0]} and {against[1]!r} in line {against[0]} "
        "are dates in two different orders",
        right="say which is meant: --date-order dmy or mdy",
        column="at",
    )


def _open_order(line: int, text: str, possible: set[str]) -> BadInput:
    orders = [order for order in ORDERS if order in possible]
    either = " or ".join(dict.fromkeys(dated(text, order).isoformat() for order in orders))
    return BadInput(
        f"{text!r} could be {either}, and no other date decides it",
        right=f"say which is meant: --date-order {' or '.join(orders)}",
        line=line,
        column="at",
    )
