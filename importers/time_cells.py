"""Times, a column at a time: ISO times all at once, other spellings one by one."""

from __future__ import annotations

from datetime import tzinfo

import polars as pl

from advisor.times import UnreadableTime, read_time

_DAY = r"(?:19|20|21)[0-9]{2}-[0-9]{2}-[0-9]{2}"
_CLOCK = r"(?:[01][0-9]|2[0-3]):[0-5][0-9]"
UTC_TIME = rf"^{_DAY}T{_CLOCK}:[0-5][0-9](?:\.[0-9]{{1,6}})?Z$"
LOCAL_TIME = rf"^{_DAY}[T ]{_CLOCK}(?::[0-5][0-9](?:\.[0-9]{{1,6}})?)?$"

MOST_NOTES = 5


def read_time_column(
    texts: pl.Series, zone: tzinfo, *, order: str | None, notes: list[str]
) -> pl.DataFrame:
    """The moment of each cell, or why there is none.

    Args:
        texts: Cells without white space around; null where empty.
        order: How dates like 03/04/2026 are read.
        notes: Takes a sentence for each reading taken in a clock-change hour.
    Returns: Columns at_us and at_fault (a reason, or null).
    """
    frame = pl.DataFrame({"typed": texts})
    typed = pl.col("typed")
    in_utc = pl.when(typed.str.contains(UTC_TIME)).then(typed)
    frame = frame.with_columns(
        at=in_utc.str.to_datetime("%Y-%m-%dT%H:%M:%S%.fZ", strict=False, time_unit="us")
    )
    if frame["at"].null_count():
        frame = frame.with_columns(pl.coalesce("at", _read_local(frame, zone)).alias("at"))
    frame = frame.select("typed", at_us=pl.col("at").cast(pl.Int64))
    odd = frame.filter(pl.col("at_us").is_null())["typed"].unique(maintain_order=True)
    if odd.len() == 0:
        return frame.select("at_us", at_fault=pl.lit(None, dtype=pl.String))
    moments, faults = _read_each(odd.to_list(), zone, order=order, notes=notes)
    return frame.select(
        at_us=pl.coalesce(
            "at_us", typed.replace_strict(moments, default=None, return_dtype=pl.Int64)
        ),
        at_fault=typed.replace_strict(faults, default=None, return_dtype=pl.String),
    )


def _read_local(frame: pl.DataFrame, zone: tzinfo) -> pl.Series:
    """Local ISO times in UTC; null where the clocks are changed, so that it gets said."""
    name = getattr(zone, "key", None) or "UTC"
    typed = pl.when(pl.col("at").is_null() & pl.col("typed").str.contains(LOCAL_TIME)).then(
        pl.col("typed").str.replace(" ", "T", literal=True)
    )
    full = pl.when(typed.str.len_bytes() == 16).then(typed + ":00").otherwise(typed)
    local = full.str.to_datetime("%Y-%m-%dT%H:%M:%S%.f", strict=False, time_unit="us")
    zoned = local.dt.replace_time_zone(name, ambiguous="null", non_existent="null")
    return frame.select(zoned.dt.convert_time_zone("UTC").dt.replace_time_zone(None)).to_series()


def _read_each(
    texts: list[str | None], zone: tzinfo, *, order: str | None, notes: list[str]
) -> tuple[dict[str | None, int | None], dict[str | None, str | None]]:
    moments: dict[str | None, int | None] = {}
    faults: dict[str | None, str | None] = {}
    for text in texts:
        moments[text], faults[text] = None, None
        if text is None:
            faults[text] = "empty"
            continue
        try:
            moment = read_time(text, zone, order=order)
        except UnreadableTime:
            faults[text] = "formula" if text.startswith("=") else "not a date"
            continue
        moments[text] = moment.at_us
        if moment.taken and len(notes) < MOST_NOTES:
            notes.append(moment.taken)
    return moments, faults
