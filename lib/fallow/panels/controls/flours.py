"""Flours and waking hours as a baker types them: 'bread 80, rye 20' and '07:00 to 22:30'."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

import traitlets

from fallow.panels.controls.field import TextField

_ONE = re.compile(r"(?:(?P<before>\d+(?:[.,]\d+)?) ?%? )?(?P<name>[^\d,;%]+?)(?: (?P<after>\d+(?:[.,]\d+)?) ?%?)?")
_HOUR = r"([0-9]{1,2})(?:[:.]([0-9]{2}))? ?(am|pm)?"
_HOURS = re.compile(rf"(?:from )?{_HOUR} ?(?:to|until|till|-|–|—) ?{_HOUR}")
_WRITE_HOURS = "Write 07:00 to 22:30."


def flour_shares(text: str) -> dict[str, float]:
    """Return the share of each flour in a text; shares are parts of what is typed and add up to 1.

    Our choice: flours stand apart by commas, each with its part before or after it; one flour alone needs no number.

    >>> flour_shares("bread 80, rye 20"), flour_shares("white")
    ({'bread': 0.8, 'rye': 0.2}, {'white': 1.0})
    >>> flour_shares("bread, rye 20")
    Traceback (most recent call last):
    ValueError: 'bread, rye 20' gives one part and two flours; each flour needs its part. Write bread 80, rye 20.
    """
    parts: dict[str, float | None] = {}
    for piece in re.split(r"(?<!\d)[;,]|[;,](?!\d)", text):
        found = _ONE.fullmatch(" ".join(piece.split()))
        if found is None or (found["before"] and found["after"]):
            message = (
                f"{text.strip()!r} does not name flours; it must be names with their parts. Write bread 80, rye 20."
            )
            raise ValueError(message)
        if found["name"] in parts:
            message = f"{text.strip()!r} names {found['name']} twice; each flour stands once. Add its parts up."
            raise ValueError(message)
        said = found["before"] or found["after"]
        parts[found["name"]] = float(said.replace(",", ".")) if said else None
    given = [part for part in parts.values() if part is not None]
    if len(parts) == 1:
        return dict.fromkeys(parts, 1.0)
    if len(given) < len(parts) or not sum(given):
        message = (
            f"{text.strip()!r} gives {_number(len(given))} and {_number(len(parts), 'flour')}; each flour needs its part. "
            "Write bread 80, rye 20."
        )
        raise ValueError(message)
    return {name: float(part or 0.0) / sum(given) for name, part in parts.items()}


def waking_hours(text: str) -> tuple[str, str]:
    """Return the two ends of a day in a text, on a clock of 24 hours.

    Our choice: two bare hours of the first half day are refused, for '7 to 10' is a morning to one reader, a day to another.

    >>> waking_hours("7:00 to 22.30"), waking_hours("7am to 10pm"), waking_hours("7-22")
    (('7:00', '22:30'), ('7:00', '22:00'), ('7:00', '22:00'))
    >>> waking_hours("early")
    Traceback (most recent call last):
    ValueError: 'early' is no span of the day; it must be two hours. Write 07:00 to 22:30.
    """
    found = _HOURS.fullmatch(" ".join(text.split()).lower())
    if found is None:
        raise _no_span(text, "it must be two hours", _WRITE_HOURS)
    first, last = found.groups()[:3], found.groups()[3:]
    if bool(first[2]) != bool(last[2]):
        raise _no_span(text, "am and pm stand at both hours or at neither", "Write 7 am to 10 pm.")
    if not any(first[1:] + last[1:]) and max(int(first[0]), int(last[0])) <= 12:
        raise _no_span(text, "its hours could be of the morning or of the evening", "Write 7 to 22, or 7 am to 10 pm.")
    return _clock(text, *first), _clock(text, *last)


def _clock(text: str, hour: str, minutes: str | None, half: str | None) -> str:
    """Return an hour as a clock of 24 hours shows it; '24:00' ends a day."""
    hours, past = int(hour), int(minutes or 0)
    if half:
        if not 1 <= hours <= 12:
            raise _no_span(text, "with am or pm the hour is 1 to 12", "Write 7 am to 10 pm.")
        hours = hours % 12 + (12 if half == "pm" else 0)
    if past > 59 or hours * 60 + past > 24 * 60:
        raise _no_span(text, "the hours of a day are 00:00 to 24:00", _WRITE_HOURS)
    return f"{hours}:{past:02d}"


def _no_span(text: str, rule: str, step: str) -> ValueError:
    return ValueError(f"{text.strip()!r} is no span of the day; {rule}. {step}")


def flours_text(shares: Mapping[str, float]) -> str:
    """Return flours as they are typed.

    >>> flours_text({"bread": 0.8, "rye": 0.2})
    'bread 80, rye 20'
    """
    return ", ".join(f"{name} {100 * share:.3g}" for name, share in shares.items())


class ReadField(TextField):
    """A text box whose ``value`` is what ``read`` makes of it, or None; what cannot be used stays with the reason."""

    value = traitlets.Any(None, allow_none=True)

    def __init__(self, *, label: str, text: str, read: Callable[[str], Any]) -> None:
        self._reader = read
        super().__init__(label=label)
        self.text = text

    @traitlets.observe("text")
    def _read(self, _change: Any) -> None:
        try:
            read = self._reader(self.text)
        except ValueError as error:
            self.message, self.value = str(error), None
        else:
            self.message, self.value = "", read


def _number(count: int, what: str = "part") -> str:
    words = {0: "no", 1: "one", 2: "two", 3: "three", 4: "four"}
    return f"{words.get(count, str(count))} {what}{'' if count == 1 else 's'}"
