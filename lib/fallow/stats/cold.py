"""What the cold took: pace, c and the debt W of every feed, fitted together so that W carries their shared error."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from fallow.maths.rates import GAENZLE_1998_YEAST, PublishedCurve
from fallow.records.experiment import Experiment
from fallow.stats.clock_posterior import BaselineFeeds, Believed, believe, nothing_known
from fallow.stats.clock_table import clock_table
from fallow.stats.owed import chance_at_most, measured

ENOUGH_BASELINES = 3
LEVELS = (0.05, 0.5, 0.95)
DRAWS = 2000


CULTURE_COLUMNS = [
    "culture", "pace", "pace_low", "pace_high", "ripening_doublings", "ripening_low", "ripening_high",
    "rise_fraction", "baseline_feeds", "only_differences",
]  # fmt: skip
DEBT_COLUMNS = [
    "owed_doublings", "owed_low", "owed_high", "owed_hours", "owed_difference", "chance_owed_at_most", "rise_share",
]  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class ColdFit:
    """What baseline and recovery feeds together say.

    Parameters
    ----------
    cultures
        One row each: pace, ripening_doublings, rise_fraction (own baseline rise), each of the first two with _low and
        _high; baseline_feeds; only_differences (too few baseline feeds for W itself).
    feeds
        One row per recovery feed: owed_doublings, owed_low, owed_high, owed_hours (at its own place), owed_difference (to
        where its culture's jars ended), chance_owed_at_most (of the limit), rise_share, and the columns of ``clock_table``.
    pulls
        Which baseline feed holds the pace and which the constant c: shares that add up to 1 in each culture.
    believed
        Draws of pace, c and error by culture, for forecasts.
    error_sd_doublings
        Error of one peak, in doublings.
    """

    cultures: pd.DataFrame
    feeds: pd.DataFrame
    pulls: pd.DataFrame
    error_sd_doublings: float
    limit_doublings: float
    believed: dict[str, Believed] = field(repr=False)

    @property
    def only_differences(self) -> tuple[str, ...]:
        """Cultures with fewer than three baseline feeds: of their jars only differences in W are told."""
        return tuple(self.cultures.loc[self.cultures["only_differences"], "culture"])


def fit_cold(
    experiment: Experiment,
    *,
    limit_doublings: float | None = None,
    curve: PublishedCurve = GAENZLE_1998_YEAST,
    draws: int = DRAWS,
) -> ColdFit:
    """Fit pace and c from the baseline feeds and W of every recovery feed, from intervals between looks.

    pace * earned(at peak) = log2(D) + W + c + error, W = 0 in form (design law). Pace, c and error are drawn from what the
    baseline feeds allow, and W is read off for each draw, so that its interval holds the error of c that all jars of a
    culture share. Every low and high is the 5 % and the 95 % point. Fewer than three baseline feeds: W itself is left empty.
    ``limit_doublings``, of which each feed is given the chance, is the experiment's own rule's when left out. How often the
    intervals hold is simulated in ``coverage_debt``.
    """
    limit = experiment.rule.owed_at_most_doublings if limit_doublings is None else limit_doublings
    return fit_clock(clock_table(experiment, curve=curve), limit_doublings=limit, draws=draws)


def fit_clock(table: pd.DataFrame, *, limit_doublings: float = 0.5, draws: int = DRAWS) -> ColdFit:
    """Fit what ``fit_cold`` fits, from rows of ``clock_table``."""
    usable = table["cost_doublings"].notna() & table["doublings_per_hour"].notna()
    seen = table[usable & np.isfinite(table["high_hours"]) & (table["kind"] == "baseline")]
    recovery = table[table["kind"] == "recovery"].reset_index(drop=True)
    names = sorted(table["culture"].unique())
    known = [name for name in names if (seen["culture"] == name).sum() >= ENOUGH_BASELINES]
    believed = dict(zip(known, believe([_baseline(seen, name) for name in known], draws=draws), strict=True))
    for name in set(names) - set(known):
        believed[name] = nothing_known(draws=draws)
    rows = [_culture_row(name, seen, believed[name], name in known) for name in names]
    cultures = pd.DataFrame(rows, columns=CULTURE_COLUMNS).astype({"only_differences": bool})
    return ColdFit(
        cultures=cultures,
        feeds=_with_debts(recovery, cultures, believed, limit_doublings),
        pulls=pd.concat(
            [_pulls(seen[seen["culture"] == name]) for name in known] or [_pulls(seen.iloc[:0])], ignore_index=True
        ),
        error_sd_doublings=float(
            np.median(np.concatenate([each.error_sd for each in believed.values()] or [[np.nan]]))
        ),
        limit_doublings=limit_doublings,
        believed=believed,
    )


def _baseline(seen: pd.DataFrame, culture: str) -> BaselineFeeds:
    mine = seen[seen["culture"] == culture]
    return BaselineFeeds(
        cost=mine["cost_doublings"].to_numpy(float),
        earned_low=mine["earned_low"].to_numpy(float),
        earned_high=mine["earned_high"].to_numpy(float),
    )


def _culture_row(name: str, seen: pd.DataFrame, believed: Believed, known: bool) -> dict[str, object]:
    pace, ripening = np.quantile(believed.pace, LEVELS), np.quantile(believed.ripening, LEVELS)
    mine = seen[seen["culture"] == name]
    return {
        "culture": name,
        "pace": pace[1],
        "pace_low": pace[0],
        "pace_high": pace[2],
        "ripening_doublings": ripening[1],
        "ripening_low": ripening[0],
        "ripening_high": ripening[2],
        "rise_fraction": mine["rise_fraction"].median(),
        "baseline_feeds": len(mine),
        "only_differences": not known,
    }


def _with_debts(
    feeds: pd.DataFrame, cultures: pd.DataFrame, believed: dict[str, Believed], limit_doublings: float
) -> pd.DataFrame:
    parts = []
    for name, mine in feeds.groupby("culture", sort=False):
        row = cultures.set_index("culture").loc[name]
        parts.append(_of_one_culture(mine, row, believed[str(name)], limit_doublings))
    table = pd.concat(parts).sort_index() if parts else feeds.assign(**dict.fromkeys(DEBT_COLUMNS, np.nan))
    return table.reset_index(drop=True)


def _of_one_culture(mine: pd.DataFrame, row: pd.Series, believed: Believed, limit_doublings: float) -> pd.DataFrame:
    ends = {
        "cost": mine["cost_doublings"].to_numpy(float),
        "earned_low": mine["earned_low"].to_numpy(float),
        "earned_high": mine["earned_high"].to_numpy(float),
    }
    low, middle, high = measured(believed=believed, **ends)
    chance = chance_at_most(limit_doublings=limit_doublings, believed=believed, **ends)
    ended = pd.Series(middle, index=mine.index).groupby(mine["jar"]).last().mean()
    told = mine.assign(
        owed_doublings=middle,
        owed_low=low,
        owed_high=high,
        owed_hours=middle / (row["pace"] * mine["doublings_per_hour"]),
        owed_difference=middle - ended,
        chance_owed_at_most=chance,
        rise_share=mine["rise_fraction"] / row["rise_fraction"],
    )
    if row["only_differences"]:
        told[["owed_doublings", "owed_low", "owed_high", "owed_hours", "chance_owed_at_most"]] = np.nan
    return told


def _pulls(mine: pd.DataFrame) -> pd.DataFrame:
    """Return how much each feed holds pace and c: its share of the weights in cost = pace * earned - c by least squares."""
    earned = (mine["earned_low"] + mine["earned_high"]) / 2
    apart = (earned - earned.mean()).abs()
    to_pace = apart / apart.sum() if apart.sum() > 0 else apart * np.nan
    spread = ((earned - earned.mean()) ** 2).sum()
    weights = (1 / max(len(mine), 1) - (earned - earned.mean()) * earned.mean() / (spread or np.nan)).abs()
    return mine[["culture", "jar", "feed", "cost_doublings"]].assign(
        holds_pace=to_pace, holds_ripening=weights / weights.sum()
    )
