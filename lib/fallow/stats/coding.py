"""From the columns a formula names to the numbers a fit needs, learned once and used again for a new row."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.stats.formula import Factor, Formula

Floats = npt.NDArray[np.float64]
Named = list[tuple[str, Floats]]
GUESS_BEYOND = 1.5


@dataclass(frozen=True)
class Numeric:
    """A column used as a number, after ``transform``; ``low`` and ``high`` are the ends of what was on record."""

    text: str
    column: str
    transform: Callable[[Floats], Floats]
    low: float
    high: float

    def code(self, table: pd.DataFrame, *, full: bool) -> Named:
        """Give one named column of numbers (``full`` changes nothing for a number)."""
        values = self.transform(table[self.column].to_numpy(dtype=float))
        if not np.all(np.isfinite(values)):
            seen = table[self.column].to_numpy(dtype=float)[~np.isfinite(values)][0]
            message = (
                f"{self.text} has no value at {seen:g}; a logarithm needs a larger number. Use the column as it is."
            )
            raise ValueError(message)
        return [(self.text, values)]

    def outside(self, table: pd.DataFrame) -> npt.NDArray[np.bool_]:
        """Say for each row whether it lies beyond what was on record."""
        values = table[self.column].to_numpy(dtype=float)
        return (values < self.low) | (values > self.high)

    def beyond(self, value: float) -> str:
        """Say how far a value lies beyond the record; past one and a half times its highest, that it is a guess."""
        guess = " This is a guess." if value > GUESS_BEYOND * self.high > 0 else ""
        return f"{self.column} is {value:g}; the record has {self.low:g} to {self.high:g}.{guess}"


@dataclass(frozen=True)
class Levels:
    """A column used freely by level; the first level is the one the others are compared with."""

    text: str
    column: str
    levels: tuple[object, ...]

    def code(self, table: pd.DataFrame, *, full: bool) -> Named:
        """Give one 0/1 column for each level, without the first unless ``full``."""
        values = table[self.column]
        unknown = ~values.isin(self.levels)
        if unknown.any():
            known = ", ".join(str(level) for level in self.levels[:8])
            message = f"{self.column} is {values[unknown].iloc[0]}; the record has {known}. Choose one of these."
            raise ValueError(message)
        kept = self.levels if full else self.levels[1:]
        mark = "" if full else "T."
        return [(f"{self.text}[{mark}{level}]", np.asarray(values == level, dtype=float)) for level in kept]

    def outside(self, table: pd.DataFrame) -> npt.NDArray[np.bool_]:
        """Say for each row whether its level was never on record."""
        return ~table[self.column].isin(self.levels).to_numpy()

    def beyond(self, value: object) -> str:
        """Say that a level was never on record."""
        return f"{self.column} is {value}; the record has {', '.join(str(level) for level in self.levels[:8])}."


@dataclass(frozen=True)
class Recipe:
    """What was learned from a table for one formula: transforms, levels and which level each term leaves out."""

    terms: tuple[tuple[tuple[Numeric | Levels, bool], ...], ...]
    intercept: bool

    def matrix(self, table: pd.DataFrame) -> tuple[list[str], Floats]:
        """Give the names of the coefficients and one row of numbers for each row of ``table``."""
        named: Named = [("Intercept", np.ones(len(table)))] if self.intercept else []
        for term in self.terms:
            product: Named = [("", np.ones(len(table)))]
            for part, full in term:
                product = _times(product, part.code(table, full=full))
            named += product
        return [name for name, _ in named], np.column_stack([values for _, values in named])

    @property
    def parts(self) -> tuple[Numeric | Levels, ...]:
        """Each coded column once."""
        return tuple(dict.fromkeys(part for term in self.terms for part, _ in term))


def _times(left: Named, right: Named) -> Named:
    return [(f"{a}:{b}" if a else b, x * y) for a, x in left for b, y in right]


def learn(formula: Formula, table: pd.DataFrame, counts: Floats) -> Recipe:
    """Learn levels, ranges and the means of ``standardize`` from rows that stand for ``counts`` jars each.

    A level is left out of a term when the same term without that factor is already in the formula (R's marginality
    rule), so that ``C(feed) + C(feed):rye`` and ``C(feed):rye`` span what a reader expects.
    """
    present = {frozenset(term) for term in formula.terms} | ({frozenset[Factor]()} if formula.intercept else set())
    coded = {f: _learn_factor(f, table, counts) for term in formula.terms for f in term}
    terms = tuple(tuple((coded[f], (frozenset(term) - {f}) not in present) for f in term) for term in formula.terms)
    return Recipe(_one_full_baseline(terms, intercept=formula.intercept), formula.intercept)


def _one_full_baseline(
    terms: tuple[tuple[tuple[Numeric | Levels, bool], ...], ...], *, intercept: bool
) -> tuple[tuple[tuple[Numeric | Levels, bool], ...], ...]:
    """Without an intercept the first free column carries all its levels and the later ones leave their first out."""
    seen = intercept
    result = []
    for term in terms:
        levels = len(term) == 1 and isinstance(term[0][0], Levels)
        result.append(((term[0][0], not seen),) if levels else term)
        seen = seen or levels
    return tuple(result)


def _learn_factor(factor: Factor, table: pd.DataFrame, counts: Floats) -> Numeric | Levels:
    values = table[factor.column]
    numeric = pd.api.types.is_numeric_dtype(values)
    if factor.call == "C" or not (numeric or factor.call):
        return Levels(str(factor), factor.column, tuple(sorted(values.unique().tolist(), key=_order)))
    if not numeric:
        message = f"{factor} needs numbers, but {factor.column} holds {values.iloc[0]!r}. Use C({factor.column})."
        raise ValueError(message)
    numbers = values.to_numpy(dtype=float)
    endless = numbers[np.isinf(numbers)]
    if len(endless):
        message = f"{factor.column} is {endless[0]:g} in some rows; a covariate is a finite number. Leave those rows out, or that column."
        raise ValueError(message)
    return Numeric(str(factor), factor.column, _transform(factor.call, numbers, counts), numbers.min(), numbers.max())


def _order(level: object) -> tuple[bool, float, str]:
    number = isinstance(level, int | float)
    return not number, float(level) if isinstance(level, int | float) else 0.0, str(level)


def _transform(call: str, numbers: Floats, counts: Floats) -> Callable[[Floats], Floats]:
    mean = float(np.average(numbers, weights=counts))
    spread = float(np.sqrt(np.average((numbers - mean) ** 2, weights=counts))) or 1.0

    def standardize(values: Floats) -> Floats:
        return (values - mean) / spread

    return {"": _as_is, "np.log1p": _log1p, "np.log": _log, "standardize": standardize}[call]


def _as_is(values: Floats) -> Floats:
    return values


def _log1p(values: Floats) -> Floats:
    return np.log1p(values, out=np.full_like(values, np.nan), where=values > -1)


def _log(values: Floats) -> Floats:
    return np.log(values, out=np.full_like(values, np.nan), where=values > 0)
