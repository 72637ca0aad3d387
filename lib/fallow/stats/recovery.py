"""How many feeds recovery takes, from counts: a hazard for each feed, its intervals, and what they mean for a plan."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.records.said_number import counted
from fallow.stats.coding import learn
from fallow.stats.default_formula import default_formula
from fallow.stats.feed_count import Feeds
from fallow.stats.formula import Formula, read_formula
from fallow.stats.likelihood import HazardLikelihood, highest
from fallow.stats.links import CLOGLOG, LOGIT, Link
from fallow.stats.patterns import Patterns, collapse
from fallow.stats.plain_peak import plain_peak
from fallow.stats.recovery_fit import RecoveryFit
from fallow.stats.risk import risk_table
from fallow.stats.whitening import whiten

__all__ = ["CLOGLOG", "LOGIT", "Feeds", "RecoveryFit", "default_formula", "fit_patterns", "fit_recovery", "risk_table"]

Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
PENALTY_BELOW_JARS = 200


def fit_recovery(
    table: pd.DataFrame, formula: str | None = None, jeffreys: bool | None = None, *, link: Link = CLOGLOG
) -> RecoveryFit:
    """Fit the chance of recovering at each feed, given that a jar has not yet, to a risk table.

    ln(-ln(1 - h_ij)) = x_ij'beta (or logit), binomial likelihood over jars and feeds; rows alike are counted first,
    so that cost grows with patterns and not with jars. Plain likelihood is climbed by statsmodels' binomial GLM. With the
    Jeffreys penalty ln|I|/2 (expected information), which no library at hand fits for this link, own Newton steps climb,
    and an estimate is finite even when every jar recovers at once. Left out, ``jeffreys`` is on below 200 jars and ``formula``
    is ``default_formula(table)``. Intervals are 90 % profile likelihood, standard errors from the expected information.
    Raises ValueError with one sentence for a formula, column or table that cannot be used.
    Sources: Prentice & Gloeckler 1978, Biometrics 34:57-67; Singer & Willett 1993, J. Educ. Stat. 18:155-195;
    Firth 1993, Biometrika 80:27-38 (pages from memory). Horizons and thresholds are our choice.

    Six of 30 jar-feeds against six of 15 (closed form: 0.828213):

    >>> arms = pd.DataFrame({"jar": range(45), "feed": 1, "treated": [0] * 30 + [1] * 15,
    ...                      "recovered": ([1] * 6 + [0] * 24) + ([1] * 6 + [0] * 9)})
    >>> round(float(fit_recovery(arms, "treated", jeffreys=False).coefficients.loc["treated", "estimate"]), 6)
    0.828213
    """
    wanted = read_formula(default_formula(table) if formula is None else formula)
    patterns = collapse(table, wanted.columns)
    remarks = _left_out(table, patterns)
    penalty = patterns.fewer_jars_than(PENALTY_BELOW_JARS) if jeffreys is None else jeffreys
    leave_out = jeffreys is not None
    return fit_patterns(wanted, patterns, jeffreys=penalty, leave_out=leave_out, link=link, remarks=remarks)


def _left_out(table: pd.DataFrame, patterns: Patterns) -> tuple[str, ...]:
    """Say how many jars lost a feed for want of a covariate."""
    lost = np.ones(len(table), dtype=bool)
    lost[patterns.kept] = False
    if not lost.any():
        return ()
    jars, feeds = counted(int(table["jar"][lost].nunique()), "jar"), counted(int(lost.sum()), "feed")
    return (f"{feeds} of {jars} left out: a covariate is missing there.",)


def fit_patterns(
    formula: Formula,
    patterns: Patterns,
    *,
    jeffreys: bool,
    leave_out: bool = False,
    link: Link = CLOGLOG,
    remarks: tuple[str, ...] = (),
) -> RecoveryFit:
    """Fit a formula to rows already counted; what ``fit_recovery`` does after reading its table.

    Rows to which plain likelihood gives a hazard of 0 or 1 are left out with ``leave_out``; without it, as where they are
    all, the penalty is used.
    """
    fit = _climbed(formula, patterns, link, remarks, jeffreys=jeffreys)
    inside = np.ones(len(patterns.rows), dtype=bool) if jeffreys else _inside(fit)
    if inside.all():
        return fit
    if not (leave_out and inside.any()):
        remark = "Plain likelihood has no finite estimate here, so the Jeffreys penalty was used."
        return _climbed(formula, patterns, link, (*remarks, remark), jeffreys=True)
    rows = counted(int(patterns.at_risk[~inside].sum()), "row")
    remark = f"{rows} left out: a hazard of 0 or 1 fits them exactly, so plain likelihood has no finite estimate there."
    only, told = patterns.only(inside), (*remarks, remark)
    return fit_patterns(formula, only, jeffreys=False, leave_out=True, link=link, remarks=told)


def _climbed(
    formula: Formula, patterns: Patterns, link: Link, remarks: tuple[str, ...], *, jeffreys: bool
) -> RecoveryFit:
    recipe = learn(formula, patterns.rows, patterns.at_risk)
    names, matrix = recipe.matrix(patterns.rows)
    design = whiten(names, matrix, patterns.at_risk)
    likelihood = HazardLikelihood(design.matrix, patterns.at_risk, patterns.events, link, jeffreys)
    start = design.level(_typical(patterns.at_risk, patterns.events))
    peak = highest(likelihood, start) if jeffreys else plain_peak(likelihood, start)
    return RecoveryFit(formula, recipe, design, likelihood, peak, patterns, remarks)


def _inside(fit: RecoveryFit) -> Bools:
    """Say which rows plain likelihood fits with a hazard between 0 and 1.

    The others add nothing to the likelihood at its (infinite) maximum, so the rest is estimated without them.
    """
    counts = fit.likelihood
    total = counts.link.cumulative(fit.peak.beta @ counts.matrix.T)[0]
    none = (counts.events == 0) & (total < 1e-8)
    every = (counts.events == counts.at_risk) & (total > 16)
    return np.asarray(~(none | every))


def _typical(at_risk: Floats, events: Floats) -> float:
    """Give a starting eta: that of the hazard over all feeds, drawn in from 0 and 1."""
    hazard = (events.sum() + 0.5) / (at_risk.sum() + 1.0)
    return float(np.log(-np.log1p(-hazard)))
