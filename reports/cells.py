"""Numbers, times and names as they stand on a page, each with its exact value in the markup."""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime

from markupsafe import Markup, escape

from advisor.figures import amount, percent
from reports.findings import signed_percent

NOTHING = Markup('<span class="none">–</span>')


def number(value: float | None) -> Markup:
    """A number, short, with the exact one as the element's value.

    >>> number(171.23456)
    Markup('<data value="171.23456">171.2</data>')
    """
    if value is None:
        return NOTHING
    return Markup('<data value="{}">{}</data>').format(json.dumps(value), amount(value))


def share(value: float | None) -> Markup:
    """A share of one in per cent.

    >>> share(0.713)
    Markup('<data value="0.713">71 %</data>')
    """
    if value is None:
        return NOTHING
    return Markup('<data value="{}">{}</data>').format(json.dumps(value), percent(value))


def change(value: float | None) -> Markup:
    """A relative change with its sign.

    >>> change(-0.004)
    Markup('<data value="-0.004">-0.4 %</data>')
    """
    if value is None:
        return NOTHING
    return Markup('<data value="{}">{}</data>').format(json.dumps(value), signed_percent(value))


def days(value: float | None) -> Markup:
    """A stretch of days, to a tenth."""
    if value is None:
        return NOTHING
    return Markup('<data value="{}">{:.1f}</data>').format(json.dumps(value), value)


def time(at: str | None) -> Markup:
    """A moment, to the minute, UTC.

    >>> time("2026-11-15T18:00:00Z")
    Markup('<time datetime="2026-11-15T18:00:00Z">2026-11-15 18:00</time>')
    """
    if at is None:
        return NOTHING
    return Markup('<time datetime="{}">{}</time>').format(at, minute(at))


def minute(at: str) -> str:
    """A moment in words, to the minute.

    >>> minute("2026-11-15T18:00:00Z")
    '2026-11-15 18:00'
    """
    return datetime.fromisoformat(at).strftime("%Y-%m-%d %H:%M")


def day(at: str | None) -> Markup:
    """The day of a moment, UTC."""
    return NOTHING if at is None else Markup('<time datetime="{}">{}</time>').format(at, at[:10])


def link(name: object, pages: Mapping[str, str]) -> Markup:
    """A name, as a link where it has a page."""
    if name in pages:
        return Markup('<a href="{}">{}</a>').format(pages[str(name)], name)
    return escape(name)


def data_script(value: object) -> Markup:
    """A value as JSON that can stand in a script element: no text in it can end the element.

    >>> data_script("</script>&")
    Markup('"\\\\u003c/script\\\\u003e\\\\u0026"')
    """
    text = json.dumps(value, ensure_ascii=True, allow_nan=False, separators=(",", ":"))
    for letter in "<>&":
        text = text.replace(letter, f"\\u{ord(letter):04x}")
    return Markup(text)  # noqa: S704 - every letter that HTML knows is spelled out above
