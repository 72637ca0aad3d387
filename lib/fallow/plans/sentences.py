"""What a plan says in one sentence: at most thirty words, with both ends of what is not known."""

from __future__ import annotations

import pandas as pd

_NUMBERS = ("no feed", "One feed", "Two feeds", "Three feeds", "Four feeds")


def bring_back(*, table: pd.DataFrame, mix: pd.Timestamp, chance: float) -> str:
    """Return the plan in one sentence: feeds with hour and place, and of how many such plans are ready."""
    feeds = ", ".join(f"{clock(at)} {place}" for at, place in zip(table["at"], table["place"], strict=True))
    return f"{_NUMBERS[len(table)]}: {feeds}. Ready at {clock(mix)} in {out_of(chance)}."


def clock(moment: pd.Timestamp) -> str:
    """Return day of the week and hour.

    >>> clock(pd.Timestamp("2026-05-16T07:40+02:00"))
    'Sat 07:40'
    """
    return f"{moment:%a %H:%M}"


def out_of(chance: float) -> str:
    """Return a chance as jars out of ten, or out of a hundred where ten is too coarse.

    >>> out_of(0.7), out_of(0.955)
    ('about 7 of 10 such plans', 'about 96 of 100 such plans')
    """
    if 0.1 <= chance <= 0.9:
        return f"about {round(chance * 10)} of 10 such plans"
    return f"about {round(chance * 100)} of 100 such plans"
