"""Flours and waking hours as a baker types them: 'bread 80, rye 20' and '07:00 to 22:30'."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

import traitlets

from fallow.panels.controls.field import TextField

_ONE = re.compile(r"(?:(?P<before>\d+(?:[.,]\d+)?) ?%? )?(?P<name>[^\d,;%]+?)(?: (?P<after>\d+(?:[.,]\d+)?) ?%?)?")
_HOURS = re.compile(r"(\d{1,2}[:.]\d{2}) ?(?:to|until|-|–) ?(\d{1,2}[:.]\d{2})")


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
    """Return the two ends of a day in a text.

    >>> waking_hours("7:00 to 22.30")
    ('7:00', '22:30')
    >>> waking_hours("early")
    Traceback (most recent call last):
    ValueError: 'early' is no span of the day; it must be two hours. Write 07:00 to 22:30.
    """
    found = _HOURS.fullmatch(" ".join(text.split()))
    if found is None:
        message = f"{text.strip()!r} is no span of the day; it must be two hours. Write 07:00 to 22:30."
        raise ValueError(message)
    return found[1].replace(".", ":"), found[2].replace(".", ":")


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
