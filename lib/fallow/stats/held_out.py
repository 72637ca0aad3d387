"""Whether a fit forecasts a culture it has never seen better than a plain rule would."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.stats.formula import Formula, read_formula
from fallow.stats.life_table import life_table, median_feeds
from fallow.stats.recovery import fit_recovery
from fallow.stats.recovery_fit import RecoveryFit

Floats = npt.NDArray[np.float64]
ALWAYS = 2


@dataclass(frozen=True)
class HeldOut:
    """Scores in feeds (smaller is better) for each culture left out and over all jars, and the sentence they make."""

    table: pd.DataFrame
    sentence: str


def leave_one_culture_out(table: pd.DataFrame, formula: str, *, by: str = "culture") -> HeldOut:
    """Forecast each culture's jars from the others, and hold two plain rules against the same jars.

    The score of a forecast F(k) of a jar that recovered at feed T is sum_k (F(k) - [T <= k])^2 over the feeds it was
    watched for: the ranked probability score (Epstein 1969, J. Appl. Meteorol. 8:985-987, memory), which for a plain
    rule is the number of feeds it is off. A jar not seen recovered is scored over its feeds at risk, the others over the
    longest record. The rules: always two feeds; the median of the other cultures' record. Terms of ``by`` are left out
    of the formula, for a culture never seen has no coefficient.
    """
    told = read_formula(formula)
    kept = tuple(term for term in told.terms if all(factor.column != by for factor in term))
    plain = str(Formula(kept, told.intercept))
    last = int(table["feed"].max())
    rows = [row for name in pd.unique(table[by].dropna()) for row in _scores(table, plain, by, name, last)]
    scores = pd.DataFrame(rows, columns=[by, "jar", "hazard", f"always {ALWAYS} feeds", "median of the record"])
    if scores.empty:
        return HeldOut(scores, "One culture alone cannot be forecast from others.")
    numbers = scores.set_index([by, "jar"])
    means = numbers.groupby(level=by, sort=False).mean()
    means.loc["all jars"] = numbers.mean()
    counts = [*numbers.groupby(level=by, sort=False).size(), len(numbers)]
    return HeldOut(means.assign(jars=counts), _sentence(numbers.mean()))


def _scores(table: pd.DataFrame, formula: str, by: str, name: object, last: int) -> Iterator[tuple[object, ...]]:
    others, own = table[table[by] != name], table[table[by] == name]
    if others.empty:
        return
    fit = fit_recovery(others, formula)
    median = median_feeds(life_table(others))
    middle = int(np.ceil(median)) if np.isfinite(median) else last + 1
    feeds = np.arange(1, last + 1)
    for jar, rows in own.groupby("jar", sort=False):
        recovered = bool(rows["recovered"].max())
        when = int(rows["feed"].max()) if recovered else last + 1
        watched = feeds <= (last if recovered else int(rows["feed"].max()))
        forecasts = [_chances(fit, rows, last), 1.0 * (feeds >= ALWAYS), 1.0 * (feeds >= middle)]
        yield name, jar, *(float(((f - (feeds >= when)) ** 2)[watched].sum()) for f in forecasts)


def _chances(fit: RecoveryFit, rows: pd.DataFrame, last: int) -> Floats:
    """Forecast a jar from its own covariates; the first feed's stand for all where they differ between feeds."""
    first = rows.sort_values("feed").iloc[[0]]
    return fit.chances(first, feeds=last)


def _sentence(means: pd.Series) -> str:
    ours, rules = float(means["hazard"]), means.drop("hazard")
    best = str(rules.idxmin())
    gain = float(rules.min()) - ours
    if gain > 0:
        return f"For a culture it has not seen the fit is {gain:.2f} feeds closer than the better plain rule ({best})."
    return f"For a culture it has not seen the plain rule '{best}' does as well or better (by {-gain:.2f} feeds)."
