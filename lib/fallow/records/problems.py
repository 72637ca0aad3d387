"""A problem of a record, named so that a baker can go to the cell and mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

_LONGEST_SHOWN = 60
# a file that lost its parent table would otherwise look up every row against every name
_MOST_LOOKED_UP = 20


@dataclass(frozen=True, kw_only=True)
class Problem:
    """What is wrong in one cell, row or file; printed, it is one sentence: the value seen, the rule, the next step.

    ``row`` counts as a spreadsheet does (the header is row 1); 0 means the whole file, or a row not yet written.

    >>> print(Problem(file="feeds.csv", row=4, column="seed_g", value="-5", rule="it must be above zero",
    ...               next_step="Check the number and its unit."))
    feeds.csv, row 4: seed_g is '-5'; it must be above zero. Check the number and its unit.
    """

    file: str
    rule: str
    next_step: str
    row: int = 0
    column: str = ""
    value: str | None = ""

    def __str__(self) -> str:
        place = f"{self.file}, row {self.row}" if self.row else self.file
        seen = f"{self.column} is {shown(self.value)}; " if self.column else ""
        return f"{place}: {seen}{self.rule}. {self.next_step}"


def shown(value: str | None) -> str:
    """Return a value in quotation marks, cut when it is very long; '' is 'empty', no cell at all 'missing'."""
    if value is None:
        return "missing"
    return "empty" if value == "" else repr(value if len(value) <= _LONGEST_SHOWN else f"{value[:_LONGEST_SHOWN]}…")


def cut(value: str) -> str:
    """Return a value to stand inside a sentence: on one line, short, without quotation marks around it.

    >>> cut("J1"), len(cut("x" * 1000))
    ('J1', 61)
    """
    return shown(value)[1:-1]


@dataclass(frozen=True)
class Hints:
    """'Did you mean' for names that are nearly one of the known ones, each name looked up once, the first few only.

    >>> Hints(["bread", "rye"])("Bred"), Hints(["bread"])("bread"), Hints(["bread"])("salt")
    (" Did you mean 'bread'?", '', '')
    """

    known: Iterable[str]
    said: dict[str, str] = field(default_factory=dict)

    def __call__(self, name: str) -> str:
        """Return the hint for a name, or nothing."""
        if name not in self.said:
            self.said[name] = self._look_up(name) if len(self.said) < _MOST_LOOKED_UP else ""
        return self.said[name]

    def _look_up(self, name: str) -> str:
        known = {_plain(one): one for one in self.known}
        near = difflib.get_close_matches(_plain(name), known, n=1)
        return f" Did you mean {known[near[0]]!r}?" if near and known[near[0]] != name else ""


def _plain(name: str) -> str:
    return name.strip().casefold().replace(" ", "_")[:_LONGEST_SHOWN]


def refuse(problems: Sequence[Problem]) -> None:
    """Raise the first problem as its sentence; with none, do nothing."""
    if problems:
        raise ValueError(str(problems[0]))
