"""What a careful reader asks of a fit: whether one jar decides it, or the form of a covariate, or the link."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.stats.bias_reduction import bias_reduced
from fallow.stats.formula import Factor, Formula
from fallow.stats.links import CLOGLOG, LOGIT
from fallow.stats.patterns import Patterns
from fallow.stats.recovery import fit_patterns
from fallow.stats.recovery_fit import RecoveryFit

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Review:
    """A small table and the one sentence that says what it shows."""

    table: pd.DataFrame
    sentence: str


def proportional_hazards(fit: RecoveryFit) -> Review:
    """Ask of each covariate whether its effect changes from feed to feed.

    Each numeric covariate in turn is multiplied by ln(feed) and the product added to the formula; its coefficient is
    zero under proportional hazards. One row per covariate: change (per e-fold of the feed number), low, high (90 %
    profile). Source: Singer & Willett 2003 ch. 12 (memory).
    """
    terms = [term for term in fit.formula.terms if all(factor.column != "feed" for factor in term)]
    rows = [change for term in terms for change in _changes(fit, term)]
    table = pd.DataFrame(rows, columns=["term", "change", "low", "high"]).set_index("term")
    turning = table[(table["low"] > 0) | (table["high"] < 0)]
    if "feed" not in fit.patterns.rows:
        return Review(table, "The fit has no feed number, so there is nothing to compare by feed.")
    if table.empty:
        return Review(
            table, "No covariate's effect can be told feed by feed here, so there is nothing to compare by feed."
        )
    if turning.empty:
        return Review(
            table, "No covariate's effect is seen to change from feed to feed (every 90 % interval holds zero)."
        )
    return Review(
        table,
        f"The effect of {', '.join(turning.index)} changes from feed to feed; the forecast averages it. Of {len(table)} intervals "
        f"of 90 %, {0.1 * len(table):.1f} would leave zero out by chance alone.",
    )


def _changes(fit: RecoveryFit, term: tuple[Factor, ...]) -> list[tuple[str, float, float, float]]:
    product = (*term, Factor("feed", "np.log"))
    wider = Formula((*fit.formula.terms, product), fit.formula.intercept)
    if "feed" not in fit.patterns.rows:
        return []
    found = fit_patterns(wider, fit.patterns, jeffreys=fit.jeffreys, link=fit.likelihood.link).coefficients
    names = [name for name in found.index if name.endswith(":np.log(feed)")]
    return [(name.removesuffix(":np.log(feed)"), *found.loc[name, ["estimate", "low", "high"]]) for name in names]


def compare_links(fit: RecoveryFit, new: pd.DataFrame, *, feeds: int = 6) -> Review:
    """Fit the same formula by the complementary log-log and the logit link; likelihood and chances side by side.

    One row per link: loglike, aic (-2 loglike + 2 coefficients), then the chance of being ready by feed 1, 2, ...
    """
    rows = {}
    for link in (CLOGLOG, LOGIT):
        other = fit_patterns(fit.formula, fit.patterns, jeffreys=fit.jeffreys, link=link)
        chances = other.ready_by(new, feeds=feeds)["chance"]
        aic = -2 * other.loglike + 2 * len(other.design.names)
        rows[link.name] = [other.loglike, aic, *chances]
    names = ["loglike", "aic", *(f"ready_by_{feed}" for feed in range(1, feeds + 1))]
    table = pd.DataFrame.from_dict(rows, orient="index", columns=names).rename_axis("link")
    apart = float(np.ptp(table.iloc[:, 2:].to_numpy(), axis=0).max())
    better = table["aic"].idxmin()
    gap = abs(float(table["aic"].iloc[0] - table["aic"].iloc[1]))
    told = f"the {better} link fits better" if gap > 2 else "the record does not choose between them"
    return Review(
        table, f"The two links differ by at most {100 * apart:.0f} jars of 100 in how many are ready, and {told}."
    )


def without_bias(fit: RecoveryFit, new: pd.DataFrame, *, feed: int = 2) -> Review:
    """Set beside each estimate the one that errs to neither side on average (``bias_reduced``).

    One row per coefficient, then one for ln(-ln(1 - chance)) of being ready by ``feed``: fitted, reduced, moved (in
    standard errors of the fit; of the chance's, by the delta method).
    """
    other = bias_reduced(fit)
    if not other.settled:
        return Review(
            pd.DataFrame(columns=["fitted", "reduced", "moved"]),
            "No estimate without bias was found here: too few jars for so many terms.",
        )
    told = fit.coefficients[["estimate", "se"]].set_axis(["fitted", "se"], axis=1)
    table = told.assign(reduced=other.coefficients["estimate"])
    value, slope, _ = fit.target(new, np.arange(1, feed + 1)).at(np.repeat(fit.peak.beta[None, :], feed, axis=0))
    spread = np.sqrt(slope[-1] @ np.linalg.solve(fit.likelihood.information(fit.peak.beta[None, :])[0], slope[-1]))
    table.loc[f"ready by feed {feed}"] = [value[-1], spread, other.log_totals(new, feeds=feed)[-1]]
    table["moved"] = (table["reduced"] - table["fitted"]) / table["se"]
    most = table["moved"].abs().idxmax()
    before, after = fit.chances(new, feeds=feed)[-1], other.chances(new, feeds=feed)[-1]
    sentence = (
        f"Estimates from few jars lean to one side. Without that {most} moves most, by {abs(table.loc[most, 'moved']):.2f} of "
        f"its standard error, and the chance of being ready by feed {feed} goes from {before:.0%} to {after:.0%}."
    )
    return Review(table[["fitted", "reduced", "moved"]], sentence)


def leave_one_jar_out(fit: RecoveryFit, new: pd.DataFrame, *, feed: int = 2) -> Review:
    """Ask how far the chance of being ready by ``feed`` moves when one jar is left out, and name that jar.

    One row per jar, largest change first: chance without it, change. Jars with the same record are fitted once.
    """
    whole = float(fit.chances(new, feeds=feed)[-1])
    changes: dict[tuple[object, ...], float] = {}
    rows = []
    for jar, (places, recovered) in _by_jar(fit.patterns).items():
        alike = tuple(sorted(zip(places.tolist(), recovered.tolist(), strict=True)))
        if alike not in changes:
            changes[alike] = _without(fit, places, recovered, new, feed)
        rows.append((jar, changes[alike], changes[alike] - whole))
    table = pd.DataFrame(rows, columns=["jar", "chance", "change"]).set_index("jar")
    table = table.iloc[np.argsort(-table["change"].abs().fillna(-1.0).to_numpy(), kind="stable")]
    if table["chance"].isna().all():
        return Review(table, "There is no forecast without the only jar.")
    before, after = f"{whole:.0%}", f"{table['chance'].iloc[0]:.0%}"
    moves = f"from {before} to {after}" if before != after else f"and leaves it at {before}"
    return Review(
        table, f"Leaving out jar {table.index[0]} moves the chance of being ready by feed {feed} most, {moves}."
    )


def _by_jar(patterns: Patterns) -> dict[object, tuple[npt.NDArray[np.intp], Floats]]:
    """Give the patterns each jar went through, and at which of them it recovered."""
    codes, names = pd.factorize(patterns.jar)
    order = np.argsort(codes, kind="stable")
    jars, starts = np.unique(codes[order], return_index=True)
    groups = np.split(order, starts[1:])
    return {
        names[jar]: (patterns.place[rows], patterns.recovered[rows]) for jar, rows in zip(jars, groups, strict=True)
    }


def _without(fit: RecoveryFit, places: npt.NDArray[np.intp], recovered: Floats, new: pd.DataFrame, feed: int) -> float:
    size = len(fit.patterns.at_risk)
    at_risk = fit.patterns.at_risk - np.bincount(places, minlength=size)
    events = fit.patterns.events - np.bincount(places, weights=recovered, minlength=size)
    left = at_risk > 0
    if not left.any():
        return float("nan")
    counted = fit.patterns.recounted(at_risk, events).only(left)
    try:
        smaller = fit_patterns(fit.formula, counted, jeffreys=fit.jeffreys, link=fit.likelihood.link)
        return float(smaller.chances(new, feeds=feed)[-1])
    except ValueError:
        return float("nan")
