"""Why a row is set aside: one short fixed word or two each, and what it means."""

from __future__ import annotations

REASONS: dict[str, str] = {
    "empty": "a cell that must be filled is empty",
    "not a number": "the price or count is written in no known way",
    "not finite": "the number is NaN, infinite, or a spreadsheet's error mark",
    "negative": "the number is below zero",
    "zero": "the price or count is zero",
    "too large": "the number is above a million milliards",
    "too small": "the price is below a millionth of a millionth",
    "not whole": "the count is no whole number",
    "open decimal": "the mark in the number could be for decimals or for thousands",
    "two moneys": "the price names one money, the money column another",
    "not a date": "the date or time is written in no known way, or no such day is in 1900 to 2200",
    "not a side": "the side is none of ask, bid, deal",
    "formula": "the cell holds a spreadsheet formula without its value",
    "control character": "a name or number holds an invisible or control character",
    "too long": "the name is longer than 200 characters",
    "own money": "the item is priced in itself",
    "near name": "the name is a letter or two away from a known one: perhaps a slip",
    "header again": "the header repeated further down",
    "cells": "the row has more cells than the header has columns",
    "cut off": "the last line ends early, without a line end",
    "quotes": "the quoting of the line is broken",
    "encoding": "the line holds bytes that are no text in the file's encoding",
    "not an object": "the entry of the JSON list is no object, or broken",
}
