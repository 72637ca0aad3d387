"""A growth rate without c, lag or ruler: the same culture diluted several ways, timed to the same mark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import linprog
from scipy.stats import t as student

from fallow.records.said_number import counted
from fallow.stats.intervals import fit_interval_line

Floats = npt.NDArray[np.float64]
LN2 = float(np.log(2.0))
LEVEL = 0.9


@dataclass(frozen=True, kw_only=True)
class DilutionRate:
    """The rate on the natural-log scale with its 90 % interval (``high`` may be inf), and a note ('' when there is none)."""

    per_hour: float
    low: float
    high: float
    jars: int
    note: str


@dataclass(frozen=True)
class _Slope:
    """Hours that one more doubling of the dilution takes."""

    middle: float
    low: float
    high: float
    note: str = ""


def rate_from_dilutions(
    *,
    dilution: npt.ArrayLike,
    hours_to_mark: npt.ArrayLike | None = None,
    low_hours: npt.ArrayLike | None = None,
    high_hours: npt.ArrayLike | None = None,
    block: Sequence[object] | None = None,
) -> DilutionRate:
    """Return the growth rate from the hours that different dilutions take to the same mark.

    hours = a + (ln 2 / rate) log2(D): the slope of log2(D) against the hour is rate / ln 2, whatever c, lag and mark. The
    dilution is weighed and the hour is what errs, so the hours are fitted on log2(D); each block has its own a.
    Hours seen exactly: least squares with Student's t. A mark passed between two looks: ``low_hours`` and ``high_hours`` (inf
    while not reached), fitted by interval likelihood, its error enlarged for the coefficients and Student's t; where both
    ends are left empty for a jar its ``hours_to_mark`` counts as exact to a minute. Derived from the design law; checked
    against R's lm and survreg. D from 5 up, for a jar that is hardly diluted starts near its ceiling (our choice).

    Raises
    ------
    ValueError
        When a dilution is not above 1, an hour is missing or negative, too few jars or only one dilution are given, or
        the hours do not grow with the dilution.

    >>> hours = [(np.log2(d) + 1.4) / 0.6 for d in (5, 10, 20, 40)]
    >>> round(rate_from_dilutions(dilution=[5, 10, 20, 40], hours_to_mark=hours).per_hour / LN2, 6)
    0.6
    """
    doublings = np.log2(_diluted(dilution))
    low, high = _looks(len(doublings), hours_to_mark, low_hours, high_hours)
    rows = _rows(doublings, block)
    slope = _exact(rows, low) if (low == high).all() else _between_looks(rows, *_a_minute(low, high))
    if not slope.middle > 0:
        message = (
            f"one more doubling of the dilution takes {slope.middle:.2f} h here; it must take longer, not shorter. "
            "Check which jar is which, or dilute further apart."
        )
        raise ValueError(message)
    top = LN2 / slope.low if slope.low > 0 else float("inf")
    return DilutionRate(
        per_hour=LN2 / slope.middle, low=LN2 / slope.high, high=top, jars=len(doublings), note=slope.note
    )


def _diluted(dilution: npt.ArrayLike) -> Floats:
    given = np.atleast_1d(np.asarray(dilution, dtype=float))
    if not (np.isfinite(given) & (given > 1)).all():
        wrong = given[~(np.isfinite(given) & (given > 1))][0]
        message = f"dilution is {wrong:g}; it is total over seed and must be above 1. Give e.g. 5, 10, 20, 40."
        raise ValueError(message)
    return given


def _looks(
    size: int, hours: npt.ArrayLike | None, low: npt.ArrayLike | None, high: npt.ArrayLike | None
) -> tuple[Floats, Floats]:
    """Give the ends of every jar's interval; the same twice where the hour was seen exactly."""
    nothing = np.full(size, np.nan)
    exact, lower, upper = (
        nothing if given is None else np.atleast_1d(np.asarray(given, dtype=float)) for given in (hours, low, high)
    )
    for name, given in (("hours_to_mark", exact), ("low_hours", lower), ("high_hours", upper)):
        if len(given) != size:
            message = (
                f"{name} has {len(given)} entries for {size} dilutions; there must be one each. Add the missing ones."
            )
            raise ValueError(message)
    neither = np.isnan(lower) & np.isnan(upper)
    lower, upper = np.where(neither, exact, lower), np.where(neither, exact, upper)
    lower = (
        np.where(np.isnan(lower), 0.0, lower) if not neither.any() else np.where(np.isnan(lower) & ~neither, 0.0, lower)
    )
    upper = np.where(np.isnan(upper) & ~neither, np.inf, upper)
    bad = ~((lower >= 0) & np.isfinite(lower) & (upper >= lower))
    if bad.any():
        which = int(np.argmax(bad))
        message = f"jar {which + 1} has hours {lower[which]:g} to {upper[which]:g}; they must run from 0 up. Correct that jar."
        raise ValueError(message)
    return lower, upper


def _a_minute(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    exact = low == high
    return np.where(exact, low - 1 / 120, low), np.where(exact, high + 1 / 120, high)


def _rows(doublings: Floats, block: Sequence[object] | None) -> Floats:
    names = [0] * len(doublings) if block is None else list(block)
    if len(names) != len(doublings):
        message = f"block has {len(names)} entries for {len(doublings)} dilutions; there must be one each. Add the missing ones."
        raise ValueError(message)
    levels = list(dict.fromkeys(names))
    rows = np.column_stack([*([float(name == level) for name in names] for level in levels), doublings])
    if np.linalg.matrix_rank(rows) < rows.shape[1] or len(rows) <= rows.shape[1]:
        message = (
            f"{counted(len(rows), 'jar')} at {counted(len(np.unique(doublings)), 'dilution')} in {counted(len(levels), 'block')}; "
            "a rate needs different dilutions in one block and one jar more than blocks and slope. Add jars."
        )
        raise ValueError(message)
    return np.asarray(rows)


def _exact(rows: Floats, hours: Floats) -> _Slope:
    found = np.linalg.lstsq(rows, hours, rcond=None)[0]
    free = len(rows) - rows.shape[1]
    variance = float(((hours - rows @ found) ** 2).sum()) / free
    error = float(np.sqrt(variance * np.linalg.inv(rows.T @ rows)[-1, -1]))
    return _around(float(found[-1]), error, free)


def _between_looks(rows: Floats, low: Floats, high: Floats) -> _Slope:
    """Fit by interval likelihood; where one line passes through every interval, tell the range of such lines and more."""
    ends = [_steepest(rows, low, high, side) for side in (1.0, -1.0)]
    if ends[0] is not None and ends[1] is not None:
        return _any_line(rows, low, high, (ends[0], ends[1]))
    line = fit_interval_line(design=rows, low=low, high=high)
    free = len(rows) - rows.shape[1]
    error = float(np.sqrt(line.covariance[rows.shape[1] - 1, rows.shape[1] - 1] * len(rows) / free))
    return _around(float(line.coefficients[-1]), error, free)


def _steepest(rows: Floats, low: Floats, high: Floats, side: float) -> float | None:
    """Give the smallest (side 1) or largest (-1) slope of a line through every interval; None when there is no such line."""
    above = np.isfinite(high)
    goal = np.r_[np.zeros(rows.shape[1] - 1), side]
    found = linprog(
        goal, A_ub=np.vstack([rows[above], -rows]), b_ub=np.r_[high[above], -low], bounds=(None, None), method="highs"
    )
    if found.status == 3:
        return -side * float("inf")
    return float(found.x[-1]) if found.status == 0 else None


def _any_line(rows: Floats, low: Floats, high: Floats, ends: tuple[float, float]) -> _Slope:
    """Tell what looks too far apart to show an error leave: likelihood is level over all lines through the intervals.

    The middle of their slopes, and as interval their whole range or that of the middles of the intervals, whichever
    reaches further (our choice).
    """
    seen = np.isfinite(high)
    note = "One line passes between all looks, so the rate is told no closer than such lines allow. Look more often."
    if seen.sum() <= rows.shape[1] or np.linalg.matrix_rank(rows[seen]) < rows.shape[1] or not np.isfinite(ends).all():
        return _Slope(float(np.mean(ends)), *ends, note)
    middles = _exact(rows[seen], (low[seen] + high[seen]) / 2)
    return _Slope(float(np.mean(ends)), min(ends[0], middles.low), max(ends[1], middles.high), note)


def _around(middle: float, error: float, free: int) -> _Slope:
    reach = float(student.ppf(0.5 + LEVEL / 2, free)) * error
    return _Slope(middle, middle - reach, middle + reach)
