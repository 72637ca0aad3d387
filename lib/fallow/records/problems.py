"""A problem of a record, named so that a baker can go to the cell and mend it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

_LONGEST_SHOWN = 60


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


def hint(name: str, known: Iterable[str]) -> str:
    """Return a 'Did you mean' for a name that is nearly one of the known ones, else nothing.

    >>> hint("bred", ["bread", "rye"])
    " Did you mean 'bread'?"
    """
    near = difflib.get_close_matches(name.strip().casefold().replace(" ", "_"), list(known), n=1)
    return f" Did you mean {near[0]!r}?" if near else ""


def refuse(problems: Sequence[Problem]) -> None:
    """Raise the first problem as its sentence; with none, do nothing."""
    if problems:
        raise ValueError(str(problems[0]))
