"""How far a record reaches, and why a forecast beyond it is a guess: one wording for every page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import pandas as pd

from fallow.records.said_number import days_text
from fallow.stats.coding import GUESS_BEYOND

# A degree beyond the temperatures on record is within what a thermometer may be off.
NEAR_C = 1.0
HELD = ("days_held", "hold_temp_c")
_PLACES = {
    "hold_temp_c": ("no fridge on record was so", "The fridges on record were at"),
    "place_temp_c": ("no jar on record recovered so", "The places of recovery on record were at"),
}

Ends = tuple[float, float]


def on_record(jars: pd.DataFrame, *, columns: Iterable[str] = HELD) -> dict[str, Ends]:
    """Return the lowest and the highest on record of each column that somebody wrote down; nothing where there is no jar.

    >>> on_record(pd.DataFrame({"days_held": [7, 56.0], "hold_temp_c": [None, None]}))
    {'days_held': (7.0, 56.0)}
    """
    told = {name: jars[name].astype(float).dropna() for name in columns if len(jars)}
    return {name: (float(values.min()), float(values.max())) for name, values in told.items() if len(values)}


def beyond(asked: Mapping[str, float], *, recorded: Mapping[str, Ends]) -> list[tuple[str, str]]:
    """Say in few words and in a sentence why a forecast for what is asked is a guess; empty where the record reaches it.

    Days held beyond one and a half times the longest on record, and temperatures more than a degree outside those on record
    (our choice). ``asked`` has any of days_held, hold_temp_c and place_temp_c.

    >>> beyond({"days_held": 85, "hold_temp_c": 4}, recorded={"days_held": (7, 56), "hold_temp_c": (3, 7)})
    [('no jar on record was held so long', 'The longest hold on record is 56 days.')]
    """
    if not recorded:
        return [("no jar is on record", "No jar that came back from the cold is on record.")]
    said = []
    if "days_held" in asked:
        _, longest = recorded.get("days_held", (0.0, 0.0))
        if asked["days_held"] > GUESS_BEYOND * longest:
            said.append(("no jar on record was held so long", f"The longest hold on record is {days_text(longest)}."))
    return said + [why for name, temp_c in asked.items() if name in _PLACES for why in _outside(name, temp_c, recorded)]


def guess_sentences(why: Iterable[tuple[str, str]]) -> list[str]:
    """Return the sentences of ``beyond`` as a page shows them; the first says that this is a guess."""
    return [f"{'This is a guess. ' if not number else ''}{long}" for number, (_, long) in enumerate(why)]


def _outside(name: str, temp_c: float, recorded: Mapping[str, Ends]) -> list[tuple[str, str]]:
    who, what = _PLACES[name]
    if name not in recorded:
        return [("a temperature is missing on record", f"{what} temperatures nobody wrote down.")]
    low, high = recorded[name]
    if low - NEAR_C <= temp_c <= high + NEAR_C:
        return []
    ends = f"{low:g} °C" if low == high else f"{low:g} to {high:g} °C"
    return [(f"{who} {'cold' if temp_c < low else 'warm'}", f"{what} {ends}.")]
