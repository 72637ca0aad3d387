"""How a number of things is said."""

from __future__ import annotations


def counted(count: int, what: str) -> str:
    """Return a number of things.

    >>> counted(0, "jar"), counted(1, "jar"), counted(2, "jar")
    ('no jar', '1 jar', '2 jars')
    """
    return f"{count or 'no'} {what}" if count < 2 else f"{count} {what}s"


def amount(number: float, what: str) -> str:
    """Return a number that need not be whole, with its unit.

    >>> amount(1, "day"), amount(2.5, "day")
    ('1 day', '2.5 days')
    """
    return f"{number:g} {what}{'' if number == 1 else 's'}"


def days_text(days: float) -> str:
    """Return days in words, to the nearest whole one.

    >>> days_text(13.9), days_text(1.04), days_text(0.4)
    ('14 days', '1 day', 'less than a day')
    """
    return amount(round(days), "day") if round(days) else "less than a day"


def tally(chance: float) -> str:
    """Return a chance as a count out of ten, or out of a hundred where ten is too coarse; never as none or all.

    >>> [tally(chance) for chance in (0.7, 0.954, 0.003, 0.999)]
    ['7 of 10', '95 of 100', 'fewer than 1 of 100', 'over 99 of 100']
    """
    if 0.1 <= chance <= 0.9:
        return f"{round(chance * 10)} of 10"
    return f"{hundredths(chance)} of 100"


def hundredths(chance: float) -> str:
    """Return a chance in hundredths; never as none or all.

    >>> [hundredths(chance) for chance in (0.003, 0.954, 0.999)]
    ['fewer than 1', '95', 'over 99']
    """
    return {0: "fewer than 1", 100: "over 99"}.get(round(chance * 100), f"{100 * chance:.0f}")
