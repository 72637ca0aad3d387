"""Learning from few jars: the ledger's own doubts, weighed by what each recorded jar did, from no jar at all to hundreds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from scipy.special import gammaincinv, ndtr, ndtri

from fallow.maths.arguments import Array
from fallow.maths.cold import CREEP, ColdScenario
from fallow.maths.debt import cold_doublings
from fallow.maths.defaults import DEFAULTS
from fallow.maths.draws import even_shares
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.records.experiment import Experiment
from fallow.stats.cold import ColdFit
from fallow.stats.ledger_forecast import HALF_RELATIVE_SD, Schedule, ready_chances
from fallow.stats.ledger_record import Told, jars_told
from fallow.stats.reach import HELD, Ends, beyond, on_record

PARTICLES, JARS, ROUNDS = 600, 32, 7
# Our choice: before any jar, every carried share from 0 to this is as likely as any other. The law says 0.
MOST_CARRIED = 0.85
# Our choice: one outcome in twenty may be misread (a peak missed at night), any of so many feeds then as likely.
MISREAD, MISREAD_FEEDS = 0.05, 8
PACE, PLACE, DEBT, CARRIED, CARRIED_RYE = range(5)


@dataclass(frozen=True, kw_only=True)
class Learned:
    """What is believed after the recorded jars: points in the space of doubts (standard normal a priori) with weights.

    ``jars`` recorded jars were taken in; ``recorded`` says how far the record reaches (``stats.reach``; empty: no record).
    """

    points: Array
    weight: Array
    jars: int
    limit_doublings: float
    log_pace: tuple[float, float]
    recorded: Mapping[str, Ends] = field(default_factory=dict)

    def chances(self, schedule: Schedule, *, rye_fraction: float, feeds: int, cold: ColdScenario) -> Array:
        """Return the chance to be ready by each feed (rows) for each point (columns)."""
        pace = np.exp(self.log_pace[0] + self.log_pace[1] * self.points[:, PACE])
        curve = cold.curve(GAENZLE_1998_YEAST)
        crept = float(curve.per_hour(temp_c=schedule.hold_temp_c)) * 24 * schedule.days_held / float(np.log(2))
        young = np.maximum(0.0, schedule.chilled_young_doublings - pace * crept)
        mean = float(cold_doublings(days=schedule.days_held, temp_c=schedule.hold_temp_c))
        earned = np.full(len(pace), np.inf)
        if schedule.hours_between_feeds is not None:
            rate = np.asarray(curve.per_hour(temp_c=schedule.place_temp_c + _offset_c(self.points))) / np.log(2)
            earned = pace * rate * schedule.hours_between_feeds
        return ready_chances(
            owed=_owed(self.points, mean_doublings=mean, young_doublings=young),
            steps=[(float(np.log2(schedule.dilution)), earned)] * (feeds - 1),
            carried=_carried(self.points, rye_fraction >= 0.1),
            limit_doublings=self.limit_doublings,
        )

    def guess(self, schedule: Schedule) -> str:
        """Return why a forecast for this schedule is a guess; empty where the record reaches it."""
        if not self.recorded:
            return "no jar is on record: this is the ledger's prior, a guess"
        asked = {name: float(getattr(schedule, name)) for name in (*HELD, "place_temp_c")}
        why = [long for _, long in beyond(asked, recorded=self.recorded)]
        return f"a guess: {why[0][0].lower()}{why[0][1:].rstrip('.')}" if why else ""


def before_any_jar(*, limit_doublings: float = 0.5) -> Learned:
    """Return the ledger's prior: every default of maths.defaults with its spread, and a carried share nobody knows."""
    points = _points(mean=np.zeros(5), root=np.eye(5), round_number=0)
    return Learned(
        points=points,
        weight=np.full(PARTICLES, 1 / PARTICLES),
        jars=0,
        limit_doublings=limit_doublings,
        log_pace=(0.0, DEFAULTS.pace.sd),
    )


def learn(
    experiment: Experiment,
    *,
    fit: ColdFit,
    outcomes: pd.DataFrame,
    culture: str | None = None,
    cold: ColdScenario = CREEP,
) -> Learned:
    """Weigh the ledger's doubts by the outcomes of the recorded jars, each on its own schedule.

    Likelihood of a jar recovered at feed k: P(ready by k) - P(ready by k - 1), of one not yet at m: 1 - P(ready by m), with one
    in twenty misread; prior as in ``before_any_jar``, pace from the culture's own baseline feeds. Points are drawn anew
    about what was found, seven times (adaptive importance sampling; derived). ``culture`` says whose pace the forecast is for.
    """
    recorded = outcomes.set_index("jar")
    telling = recorded.index[recorded["feeds_observed"] > 0]
    jars = [one for one in jars_told(experiment, fit=fit, cold=cold) if one.jar in telling]
    paces = {name: _log_normal(each.pace) for name, each in fit.believed.items()}
    mean, root, points, weight = np.zeros(5), np.eye(5), np.zeros((0, 5)), np.zeros(0)
    for number in range(ROUNDS):
        points = _points(mean=mean, root=root, round_number=number)
        log_like = sum((_log_like(one, recorded.loc[one.jar], points, paces, fit) for one in jars), np.zeros(PARTICLES))
        apart = np.linalg.solve(root, (points - mean).T)
        log_weight = log_like - 0.5 * (points**2).sum(axis=1) + 0.5 * (apart**2).sum(axis=0)
        weight = _tempered(log_weight, sure=number == ROUNDS - 1)
        mean = weight @ points
        spread = (points - mean).T @ ((points - mean) * weight[:, None])
        root = np.linalg.cholesky(1.5 * spread + 0.02 * np.eye(5))
    return Learned(
        points=points,
        weight=weight,
        jars=len(jars),
        limit_doublings=fit.limit_doublings,
        log_pace=paces.get(culture or "", (0.0, DEFAULTS.pace.sd)),
        recorded=on_record(outcomes, columns=(*HELD, "place_temp_c")),
    )


def forecast(
    schedule: Schedule,
    *,
    learned: Learned | None = None,
    counts: pd.DataFrame | None = None,
    rye_fraction: float = 0.0,
    feeds: int = 6,
    cold: ColdScenario = CREEP,
) -> pd.DataFrame:
    """Return the chance to be ready by each feed three ways: prior, data and both, each with low and high.

    ``prior`` is the ledger before any jar; ``data`` are the counts alone (``fit_recovery(...).ready_by``; empty without);
    ``both`` is the ledger after the recorded jars, the same as the prior when there are none. ``guess`` says where the
    record does not reach, ``cold`` which story about the cold holds.

    >>> table = forecast(Schedule(days_held=21, hold_temp_c=4, dilution=5, place_temp_c=26))
    >>> table.columns.tolist()[:4], bool(table["guess"].str.contains("no jar is on record").all())
    (['feed', 'prior', 'prior_low', 'prior_high'], True)
    """
    before = before_any_jar(limit_doublings=learned.limit_doublings if learned else 0.5)
    after = learned or before
    table = pd.DataFrame({"feed": np.arange(1, feeds + 1)})
    for name, one in (("prior", before), ("both", after)):
        chances = one.chances(schedule, rye_fraction=rye_fraction, feeds=feeds, cold=cold)
        table[name] = chances @ one.weight
        table[f"{name}_low"], table[f"{name}_high"] = (_weighted(chances, one.weight, share) for share in (0.05, 0.95))
    data = counts if counts is not None else pd.DataFrame(columns=["feed", "chance", "low", "high"], dtype=float)
    data = data[["feed", "chance", "low", "high"]].set_index("feed").reindex(table["feed"])
    for at, (name, column) in enumerate((("data", "chance"), ("data_low", "low"), ("data_high", "high"))):
        table.insert(4 + at, name, data[column].to_numpy(float))
    return table.assign(guess=after.guess(schedule), cold=str(cold))


def _points(*, mean: Array, root: Array, round_number: int) -> Array:
    normal = ndtri(even_shares(count=PARTICLES, columns=5, seed=20 + round_number))
    return np.asarray(mean + normal @ root.T)


def _offset_c(points: Array) -> Array:
    return np.asarray(DEFAULTS.place_offset_c.sd * points[:, PLACE])


def _owed(points: Array, *, mean_doublings: float, young_doublings: Array) -> Array:
    shape = HALF_RELATIVE_SD**-2
    belief = gammaincinv(shape, ndtr(points[:, DEBT])) / shape
    jar = gammaincinv(shape, even_shares(count=JARS, columns=1, seed=12)[:, 0]) / shape
    return np.asarray(young_doublings[:, None] + mean_doublings * belief[:, None] * jar)


def _carried(points: Array, rye: bool) -> Array:
    share = MOST_CARRIED * ndtr(points[:, CARRIED_RYE if rye else CARRIED])
    return np.broadcast_to(share[:, None], (len(points), JARS))


def _log_normal(pace: Array) -> tuple[float, float]:
    logs = np.log(pace)
    return float(logs.mean()), float(logs.std())


def _log_like(
    one: Told, outcome: pd.Series, points: Array, paces: dict[str, tuple[float, float]], fit: ColdFit
) -> Array:
    middle, sd = paces[one.culture]
    pace, last = np.exp(middle + sd * points[:, PACE]), int(outcome["feeds_observed"])
    ready = ready_chances(
        owed=_owed(points, mean_doublings=one.mean_doublings, young_doublings=one.young_doublings(pace=pace)),
        steps=one.steps(pace=pace, offset_c=_offset_c(points), feeds=last),
        carried=_carried(points, one.rye),
        limit_doublings=fit.limit_doublings,
    )
    if outcome["recovered"]:
        chance, misread = ready[-1] - (ready[-2] if last > 1 else 0.0), 1 / MISREAD_FEEDS
    else:
        chance, misread = 1 - ready[-1], 0.5
    return np.asarray(np.log((1 - MISREAD) * chance + MISREAD * misread))


def _tempered(log_weight: Array, *, sure: bool) -> Array:
    """Return weights that leave at least a tenth of the points in play while still looking; at the end the true ones."""
    power = 1.0
    while True:
        weight = np.exp(power * (log_weight - log_weight.max()))
        weight /= weight.sum()
        if sure or 1 / (weight**2).sum() >= PARTICLES / 10 or power < 0.01:
            return np.asarray(weight)
        power *= 0.7


def _weighted(chances: Array, weight: Array, share: float) -> list[float]:
    """Return, feed by feed, the value that this share of the weight lies below."""
    ends = []
    for row in chances:
        order = np.argsort(row)
        place = int(np.searchsorted(np.cumsum(weight[order]), share))
        ends.append(float(row[order][min(place, len(row) - 1)]))
    return ends
