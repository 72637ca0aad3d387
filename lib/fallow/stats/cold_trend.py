"""What the cold took, against days, temperature and how young the jar was chilled: a line through intervals, beside the prior."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from fallow.maths.arguments import Array
from fallow.maths.cold import CREEP, ColdScenario
from fallow.maths.decay import BREWING_YEAST_PRIOR
from fallow.maths.defaults import DEFAULTS
from fallow.records.experiment import Experiment
from fallow.records.said_number import counted
from fallow.stats.clocks_pooled import CLOCKS, REACH, clock_of, pooled
from fallow.stats.cold import ColdFit
from fallow.stats.intervals import IntervalLine, fit_interval_line
from fallow.stats.ledger_record import chilled_young

ENOUGH_JARS, ENOUGH_DURATIONS = 8, 3
# Our choice: a line alone from five jars at two durations.
FEWEST_JARS, FEWEST_DURATIONS = 5, 2
AT_ONCE, A_DAY = "at once", "a day"
PER_C, PER_LACKED = "a day, per °C warmer", "per doubling lacked when chilled"
SHAPES = np.arange(3, 21) / 10
# A debt's spread between jars goes with its size (maths.defaults: sd half its mean), so each jar is weighed by what the line
# before gave it, but never as if it owed less than half a doubling.
REWEIGHTED, SMALLEST_DEBT = 2, 0.5
# Half the 90 % point of chi-squared with one degree of freedom: how far a profile likelihood may fall.
PROFILE_DROP = 1.3528


@dataclass(frozen=True, kw_only=True)
class ColdTrend:
    """The debt of the first feed back against the hold.

    Parameters
    ----------
    terms
        term, estimate, low, high, law: doublings at once, doublings a day (at the middle temperature), its change with a
        degree, and doublings for each doubling lacked when chilled; ``law`` is what the default ledger has there.
    per_day
        hold_temp_c, per_day, low, high, prior: k(T) in natural logs a day, on record beside the brewing-yeast prior.
    shape
        p of (days)^p as estimate, low, high; None with fewer than eight jars at three durations, where p is 1.
    jars, cold, says
        How many jars, under which story about the cold the young part was counted, and one sentence.
    """

    terms: pd.DataFrame
    per_day: pd.DataFrame
    shape: tuple[float, float, float] | None
    jars: int
    cold: str
    says: str


def cold_trend(experiment: Experiment, *, fit: ColdFit, cold: ColdScenario = CREEP) -> ColdTrend:
    """Fit W at the first feed back = a + (b + g (T - T mean)) days + y lacked, the peaks as intervals.

    ``lacked`` = max(0, log2 D - pace * earned until return): what a jar chilled young still owed (design law, where a = 0.7/ln 2 and
    y = 1). Fitted for each draw of pace and c and pooled, so that their doubt is in the intervals (Rubin's rules, from
    memory); the error between jars goes with the size of the debt. A term that never varies on record is left out. Below
    eight jars or three durations the line has only ``at once`` and ``a day``, and no shape: days count as they are, as in
    the brewing-yeast prior, and ``says`` says so. Below thirty jars intervals are Student's t, their error enlarged as in least squares.

    Raises
    ------
    ValueError
        When fewer than five jars, or all of one duration, are on record.
    """
    holds = _holds(experiment, fit, cold)
    if len(holds) < FEWEST_JARS or holds["days"].round().nunique() < FEWEST_DURATIONS:
        message = (
            f"{counted(len(holds), 'jar')} at {counted(holds['days'].round().nunique(), 'duration')}; a trend needs {FEWEST_JARS} jars at "
            f"{FEWEST_DURATIONS} durations. Until then the prior stands: brewing yeast, k 0.0121 a day at 1 °C."
        )
        raise ValueError(message)
    middle_c = float(holds["hold_temp_c"].mean())
    lines = [_line(holds, fit, clock, middle_c) for clock in range(CLOCKS)]
    terms, covariance = pooled(lines, jars=len(holds))
    names = _names(holds)
    table = _table(names, terms, covariance, middle_c)
    per_day = _per_day(holds, names, terms, covariance, middle_c)
    shape = _shape(holds, fit, middle_c) if _enough(holds) else None
    ends = [per_day.iloc[0], per_day.iloc[-1]][: len(per_day)]
    says = f"The cold took, in doublings a day, {' and '.join(_a_day(row) for row in ends)}."
    if shape is None:
        says += f" {len(holds)} jars tell no curve: every day counts the same, as in the brewing-yeast prior."
    else:
        says += f" The debt grows as days to the power {shape[0]:.1f} ({shape[1]:.1f} to {shape[2]:.1f}); at 1 every day counts the same."
    return ColdTrend(terms=table, per_day=per_day, shape=shape, jars=len(holds), cold=str(cold), says=says)


def _a_day(row: pd.Series) -> str:
    """Say what a day took at one temperature, in doublings as everything on the ledger, beside the prior."""
    told, low, high, prior = (row[name] / np.log(2) for name in ("per_day", "low", "high", "prior"))
    return f"{told:.3f} at {row['hold_temp_c']:g} °C ({low:.3f} to {high:.3f}; prior {prior:.3f})"


def _holds(experiment: Experiment, fit: ColdFit, cold: ColdScenario) -> pd.DataFrame:
    jars = experiment.jars
    days = (jars["out_at"] - jars["put_away_at"]).dt.total_seconds() / 86400
    first = fit.feeds[~fit.feeds["culture"].isin(fit.only_differences)].groupby("jar").head(1)
    young = chilled_young(experiment, cold=cold).rename(
        columns={"cost_doublings": "last_cost", "earned": "last_earned"}
    )
    table = first.merge(jars[["jar", "hold_temp_c"]].assign(days=days), on="jar").merge(young, on="jar")
    return table.dropna(subset=["days", "hold_temp_c", "earned_low", "cost_doublings"]).reset_index(drop=True)


def _enough(holds: pd.DataFrame) -> bool:
    """Say whether the record bears more than a line in the days."""
    return len(holds) >= ENOUGH_JARS and holds["days"].round().nunique() >= ENOUGH_DURATIONS


def _names(holds: pd.DataFrame) -> list[str]:
    """Return the terms that this record can tell: those that vary between its jars."""
    if not _enough(holds):
        return [AT_ONCE, A_DAY]
    lacked = holds["last_cost"] - 0.8 * holds["last_earned"]
    varies = {AT_ONCE: True, A_DAY: True, PER_C: holds["hold_temp_c"].nunique() > 1, PER_LACKED: (lacked > 0).sum() > 2}
    return [name for name, does in varies.items() if does]


def _line(holds: pd.DataFrame, fit: ColdFit, clock: int, middle_c: float, shape: float = 1.0) -> IntervalLine:
    pace, ripening = clock_of(fit, holds["culture"], clock=clock)
    needed = holds["cost_doublings"].to_numpy(float) + ripening
    low, high = (pace * holds[name].to_numpy(float) - needed for name in ("earned_low", "earned_high"))
    design = _design(holds, pace, middle_c, shape)
    line = fit_interval_line(design=design, low=low, high=high)
    for _ in range(REWEIGHTED):
        size = np.maximum(design @ line.coefficients, SMALLEST_DEBT)
        line = fit_interval_line(design=design / size[:, None], low=low / size, high=high / size)
    return line


def _design(holds: pd.DataFrame, pace: Array, middle_c: float, shape: float) -> Array:
    longest = float(holds["days"].max())
    days = longest * (holds["days"].to_numpy(float) / longest) ** shape
    columns = {
        AT_ONCE: np.ones(len(holds)),
        A_DAY: days,
        PER_C: days * (holds["hold_temp_c"].to_numpy(float) - middle_c),
        PER_LACKED: np.maximum(0.0, holds["last_cost"].to_numpy(float) - pace * holds["last_earned"].to_numpy(float)),
    }
    return np.column_stack([columns[name] for name in _names(holds)])


def _table(names: list[str], terms: Array, covariance: Array, middle_c: float) -> pd.DataFrame:
    reach = REACH * np.sqrt(np.diag(covariance))
    ln2 = float(np.log(2))
    prior = float(BREWING_YEAST_PRIOR.per_day(temp_c=middle_c)) / ln2
    law = {
        AT_ONCE: DEFAULTS.cold_step.middle / ln2,
        A_DAY: prior,
        PER_C: prior * float(np.log(BREWING_YEAST_PRIOR.q10)) / 10,
        PER_LACKED: 1.0,
    }
    ends = {"estimate": terms, "low": terms - reach, "high": terms + reach}
    return pd.DataFrame({"term": names, **ends, "law": [law[name] for name in names]})


def _per_day(holds: pd.DataFrame, names: list[str], terms: Array, covariance: Array, middle_c: float) -> pd.DataFrame:
    temps = np.sort(holds["hold_temp_c"].unique())
    weights = np.zeros((len(temps), len(names)))
    weights[:, 1] = 1.0
    if PER_C in names:
        weights[:, 2] = temps - middle_c
    ln2 = float(np.log(2))
    middle = weights @ terms * ln2
    reach = REACH * np.sqrt(np.einsum("ij,jk,ik->i", weights, covariance, weights)) * ln2
    prior = np.asarray(BREWING_YEAST_PRIOR.per_day(temp_c=temps))
    return pd.DataFrame(
        {"hold_temp_c": temps, "per_day": middle, "low": middle - reach, "high": middle + reach, "prior": prior}
    )


def _shape(holds: pd.DataFrame, fit: ColdFit, middle_c: float) -> tuple[float, float, float]:
    """Return p and its profile-likelihood interval, at the middling clock."""
    profile = np.array([_line(holds, fit, CLOCKS // 2, middle_c, shape=p).loglike for p in SHAPES])
    inside = SHAPES[profile >= profile.max() - PROFILE_DROP]
    return float(SHAPES[profile.argmax()]), float(inside[0]), float(inside[-1])
