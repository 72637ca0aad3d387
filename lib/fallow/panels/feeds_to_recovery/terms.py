"""Columns, terms and numbers of the statistics in the words and signs a baker would use."""

from __future__ import annotations

import re
from collections.abc import Iterable

from fallow.records.said_number import days_text

_MINUS_NOTHING = re.compile(r"(?<![\w.])-(?=0(?:\.0+)?(?![\d.]))")
_HYPHEN = re.compile(r"(?<![\w.])-(?=\d)")
COLUMNS = {
    "days_held": "days held",
    "hold_temp_c": "hold temperature",
    "rye_fraction": "rye",
    "place_temp_c": "recovery temperature",
    "hours_between_feeds": "hours between feeds",
}
SHOWN = {
    "days_held": days_text,
    "hold_temp_c": "{:.3g} °C".format,
    "rye_fraction": "{:.0%}".format,
    "place_temp_c": "{:.3g} °C".format,
    "hours_between_feeds": "{:.3g} h".format,
}
# A level may hold brackets of its own: it ends with the bracket after which the term does.
_LEVEL = r"\[(?:T\.)?(.+?)\](?=$|[\s:,.])"
TERMS = (
    (re.compile(rf"C\(feed\){_LEVEL}"), r"feed \1"),
    (re.compile(rf"C\((\w+)\){_LEVEL}"), r"\1 \2"),
    (re.compile(r"np\.log1p\((\w+)\)|np\.log\((\w+)\)"), r"\1\2 (logarithm)"),
    (re.compile(r"C\((\w+)\)"), r"\1"),
    (re.compile(r"\bIntercept\b"), "the level"),
    (re.compile(r"\bfeed \(logarithm\)"), "feed number (logarithm)"),
    *((re.compile(rf"\b{column}\b"), word) for column, word in COLUMNS.items()),
)


def in_words(text: str) -> str:
    """Return a sentence or a name of the statistics with words in place of its column names.

    >>> in_words("np.log1p(days_held) says nothing new"), in_words("C(culture)[T.gull [2]]"), in_words("C(feed)[T.2]")
    ('Days held (logarithm) says nothing new', 'Culture gull [2]', 'Feed 2')
    """
    for pattern, word in TERMS:
        text = pattern.sub(word, text)
    return text[:1].upper() + text[1:]


def in_unit(column: str, value: float) -> str:
    """Return a value of a column as it is read.

    >>> in_unit("rye_fraction", 0.332), in_unit("days_held", 3.89)
    ('33 %', '4 days')
    """
    return SHOWN[column](value).replace("%", " %")


def minus(texts: Iterable[str]) -> list[str]:
    """Return texts in which a hyphen before a digit is a minus sign, and nothing has none.

    >>> minus(["-0.2 (-1 to -0.0)", "log-log", "feed -0"])
    ['−0.2 (−1 to 0.0)', 'log-log', 'feed 0']
    """
    return [_HYPHEN.sub("−", _MINUS_NOTHING.sub("", text)) for text in texts]


def listed(words: list[str]) -> str:
    """Return words with commas and one 'or'.

    >>> listed(["rye"]), listed(["rye", "place", "hours"])
    ('rye', 'rye, place or hours')
    """
    return " or ".join([part for part in (", ".join(words[:-1]), words[-1] if words else "") if part])
