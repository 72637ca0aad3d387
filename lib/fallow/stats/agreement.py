"""Do the ledger's forecast and the counts agree? Jars by forecast, the worst gap, and fixed debt against memoryless."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import ndtri
from scipy.stats import beta

from fallow.records.said_number import counted

ENOUGH_JARS = 20
EDGES = (0.0, 0.25, 0.5, 0.75, 1.0)
# Our choice: a forecast of never or always is taken for one in a hundred, or a single jar would settle the matter.
FLOOR = 0.01


@dataclass(frozen=True, kw_only=True)
class Agreement:
    """Jars grouped by the ledger's chance to be ready by a feed.

    Parameters
    ----------
    by_forecast
        forecast_from, forecast_to, jars, expected, observed (jars ready by the feed), gap (observed minus expected share), low, high.
    worst_gap
        The gap furthest from nothing, with low and high; None with fewer than twenty jars.
    fixed_debt_over_memoryless
        Mean log-likelihood gain per jar of the ledger over a constant chance per feed, with low and high.
    says, says_kind
        One sentence on the gap, and one on fixed debt against memoryless.
    """

    by_forecast: pd.DataFrame
    worst_gap: tuple[float, float, float] | None
    fixed_debt_over_memoryless: tuple[float, float, float] | None
    says: str
    says_kind: str


def agreement(outcomes: pd.DataFrame, by_jar: pd.DataFrame, *, feed: int = 2) -> Agreement:
    """Hold the ledger's chances, jar by jar, against what the jars did by ``feed``.

    A jar censored before ``feed`` does not count. The interval of a group's share is Clopper and Pearson's (90 %, exact); the gap takes
    the forecast as given. Fixed debt against memoryless: the log likelihood of each jar's outcome under the ledger less
    that under one constant chance per feed (from the same jars), with its standard error over jars (Vuong 1989, from
    memory); it stays undecided while its 90 % interval holds zero.

    Parameters
    ----------
    by_jar
        ``ledger_by_jar`` of the same record.
    """
    jars = outcomes.merge(by_jar[by_jar["feed"] == feed][["jar", "chance"]], on="jar")
    ready = jars["recovered"] & (jars["feeds_to_recovery"] <= feed)
    jars = jars.assign(ready=ready)[ready | (jars["feeds_observed"] >= feed)]
    table = _grouped(jars)
    kind = _fixed_debt(outcomes, by_jar)
    if len(jars) < ENOUGH_JARS:
        few = (
            f"{counted(len(jars), 'jar')} so far: too few to say if ledger and counts agree; {ENOUGH_JARS} are needed."
        )
        few = (
            few[:1].upper() + few[1:]
            if len(jars)
            else "No jar has both a forecast and an outcome by then, so there is nothing to compare."
        )
        return Agreement(
            by_forecast=table, worst_gap=None, fixed_debt_over_memoryless=kind, says=few, says_kind=_kind(kind)
        )
    worst = table.loc[table["gap"].abs().idxmax()]
    gap = (float(worst["gap"]), float(worst["low"]), float(worst["high"]))
    sure = "within what chance allows" if gap[1] <= 0 <= gap[2] else "beyond what chance allows"
    says = (
        f"Ready by feed {feed}: {worst.observed:.0f} of {counted(int(worst.jars), 'jar')} where the ledger said {worst.expected:.1f}: "
        f"a gap of {10 * gap[0]:+.1f} jars of 10 ({10 * gap[1]:+.1f} to {10 * gap[2]:+.1f}), {sure}."
    )
    return Agreement(
        by_forecast=table, worst_gap=gap, fixed_debt_over_memoryless=kind, says=says, says_kind=_kind(kind)
    )


def _grouped(jars: pd.DataFrame) -> pd.DataFrame:
    group = np.clip(np.digitize(jars["chance"], EDGES[1:-1]), 0, len(EDGES) - 2)
    rows = []
    for index in range(len(EDGES) - 1):
        mine = jars[group == index]
        count, seen, expected = len(mine), int(mine["ready"].sum()), float(mine["chance"].sum())
        if not count:
            continue
        low = float(beta.ppf(0.05, seen, count - seen + 1)) if seen else 0.0
        high = float(beta.ppf(0.95, seen + 1, count - seen)) if seen < count else 1.0
        said = expected / count
        rows.append(
            (EDGES[index], EDGES[index + 1], count, expected, seen, seen / count - said, low - said, high - said)
        )
    names = ["forecast_from", "forecast_to", "jars", "expected", "observed", "gap", "low", "high"]
    return pd.DataFrame(rows, columns=names)


def _fixed_debt(outcomes: pd.DataFrame, by_jar: pd.DataFrame) -> tuple[float, float, float] | None:
    """Return the mean gain in log likelihood per jar of the ledger over a constant chance, with its 90 % interval."""
    ready = by_jar.pivot_table(index="jar", columns="feed", values="chance")
    jars = outcomes[outcomes["jar"].isin(ready.index) & (outcomes["feeds_observed"] >= 1)]
    jars = jars[jars["feeds_observed"] <= ready.shape[1]]
    if len(jars) < ENOUGH_JARS:
        return None
    feeds, back = jars["feeds_observed"].to_numpy(int), jars["recovered"].to_numpy(bool)
    steps = np.column_stack([np.zeros(len(jars)), ready.loc[jars["jar"]].to_numpy(float)])
    rows = np.arange(len(jars))
    by_ledger = np.where(back, steps[rows, feeds] - steps[rows, feeds - 1], 1 - steps[rows, feeds])
    each = back.sum() / feeds.sum()
    constant = np.where(back, each, 1 - each) * (1 - each) ** (feeds - 1)
    gain = np.log(np.clip(by_ledger, FLOOR, 1)) - np.log(np.clip(constant, FLOOR, 1))
    reach = float(ndtri(0.95)) * float(gain.std(ddof=1)) / np.sqrt(len(gain))
    return float(gain.mean()), float(gain.mean() - reach), float(gain.mean() + reach)


def _kind(gain: tuple[float, float, float] | None) -> str:
    if gain is None or gain[1] <= 0 <= gain[2]:
        return "Fixed debt or memoryless: undecided."
    if gain[0] > 0:
        return "The record looks like a debt that feeds repay, not like a coin tossed at every feed."
    return "The record looks more like the same chance at every feed than like the ledger's debt."
