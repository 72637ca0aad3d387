"""Ways recovery may go, as known truths to draw trials from: six that the intervals were built on, eight kept unseen."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

Floats = npt.NDArray[np.float64]
MOST_FEEDS = 8
WEEK, TYPICAL_DAYS = 7.0, 21.0


def balanced(jars: int) -> pd.DataFrame:
    """Give a balanced plan: every second jar a third rye, holds of 7, 21 and 42 days in turn, two cultures in turn."""
    rows = np.arange(jars)
    rye, days = np.where(rows % 2, 1 / 3, 0.0), np.array([7.0, 21.0, 42.0])[rows // 2 % 3]
    return _plan(rows, rye, days, (rows // 2 + rows) % 2)


def unbalanced(jars: int) -> pd.DataFrame:
    """Give a plan as kitchens have it: of five jars three back within a week, one after 12 and one after 40 days; every third with rye."""
    rows = np.arange(jars)
    rye, days = np.where(rows % 3 == 2, 1 / 3, 0.0), np.array([4.0, 7.0, 40.0, 4.0, 12.0])[rows % 5]
    return _plan(rows, rye, days, rows // 2 % 2)


def _plan(rows: npt.NDArray[np.int64], rye: Floats, days: Floats, culture: npt.NDArray[np.int64]) -> pd.DataFrame:
    named = np.array(["gannet", "petrel"])[culture]
    return pd.DataFrame({"jar": rows, "rye_fraction": rye, "days_held": days, "culture": named})


@dataclass(frozen=True)
class Truth:
    """A way recovery may go: the hazard of each feed for white flour and a week held, and what moves it.

    Effects are on ln(-ln(1 - h)): of a whole measure of rye, of ln(1 + days), of the second culture. With ``waking`` looks
    every second feed (of half the jars the first, of half the second) peaks at night and is seen with the chance
    ``seen_at_night`` only; a recovery not seen is called at the next feed that is. What is judged is then the recovery
    as it can be seen.
    """

    name: str
    hazard: tuple[float, ...]
    waking: bool
    rye: float = 1.5
    days: float = -0.25
    culture: float = 0.0
    seen_at_night: float = 0.4
    plan: Callable[[int], pd.DataFrame] = balanced

    @property
    def chances(self) -> Floats:
        """The eight hazards as they are, the last one held."""
        return np.array([*self.hazard, *[self.hazard[-1]] * MOST_FEEDS][:MOST_FEEDS])

    @property
    def typical(self) -> pd.DataFrame:
        """The jar a forecast is judged on: white flour, three weeks held, the first culture."""
        return pd.DataFrame({"rye_fraction": [0.0], "days_held": [TYPICAL_DAYS], "culture": ["gannet"]})

    @property
    def effects(self) -> dict[str, float]:
        """The effects that a fit is to find, by the name of their coefficient."""
        found = {"rye_fraction": self.rye, "np.log1p(days_held)": self.days}
        return {**found, "C(culture)[T.petrel]": self.culture} if self.culture else found

    @property
    def covariates(self) -> str:
        """The terms of the formula beside the baseline."""
        return " + rye_fraction + np.log1p(days_held)" + (" + C(culture)" if self.culture else "")


SHAPES = {
    "constant": (0.45,),
    "rising": (0.25, 0.4, 0.55, 0.7, 0.8),
    "near-deterministic": (0.08, 0.75, 0.93),
}
#: Student's t below 200 jars was chosen after a pilot on these: they are no independent evidence for it.
TRUTHS = tuple(Truth(name, hazard, waking) for name, hazard in SHAPES.items() for waking in (False, True))
#: Written down, with their seed, before any trial was drawn from them, and never used to choose anything.
UNSEEN = (
    Truth("slow, and long holds hurt", (0.12, 0.2, 0.3, 0.4, 0.45), waking=False, rye=0.8, days=-0.6, plan=unbalanced),
    Truth("falling, nothing matters", (0.5, 0.4, 0.33, 0.28, 0.25), waking=False, rye=0.0, days=0.0),
    Truth("quick, rye slows", (0.6, 0.8, 0.9), waking=False, rye=-1.2, days=-0.1, plan=unbalanced),
    Truth("two cultures, rising", (0.2, 0.35, 0.5, 0.6, 0.65), waking=False, rye=1.0, days=-0.4, culture=0.8),
    Truth("late and sure", (0.03, 0.2, 0.75, 0.9), waking=False, rye=0.6, days=-0.15),
    Truth("constant and rare, waking", (0.3,), waking=True, rye=0.5, days=-0.15, plan=unbalanced),
    Truth("humped, waking", (0.2, 0.55, 0.4, 0.35), waking=True, rye=2.2, days=-0.3, seen_at_night=0.6),
    Truth("two cultures, nights lost", (0.3, 0.45, 0.6, 0.7), waking=True, rye=1.2, culture=-0.7, seen_at_night=0.1),
)
UNSEEN_SEED = 20_261_125


def seen_chances(truth: Truth, plan: pd.DataFrame) -> Floats:
    """Give the chance that each jar is first seen recovered at feed 1, 2, ... (one row per jar and phase of the night)."""
    days = np.log1p(plan["days_held"].to_numpy()) - np.log1p(WEEK)
    effect = truth.rye * plan["rye_fraction"].to_numpy() + truth.days * days
    effect = effect + truth.culture * (plan["culture"] == "petrel").to_numpy()
    hazard = -np.expm1(np.log1p(-truth.chances) * np.exp(effect)[:, None])
    first = hazard * np.cumprod(np.column_stack([np.ones(len(plan)), 1 - hazard[:, :-1]]), axis=1)
    if not truth.waking:
        return np.stack([first, first])
    return np.stack([_delayed(first, phase, truth.seen_at_night) for phase in (0, 1)])


def _delayed(first: Floats, phase: int, seen_at_night: float) -> Floats:
    """Carry what a night hides over to the next feed that is seen."""
    seen = np.where(np.arange(MOST_FEEDS) % 2 == phase, seen_at_night, 1.0)
    called, hidden = np.zeros_like(first), np.zeros(len(first))
    for feed in range(MOST_FEEDS):
        waiting = hidden + first[:, feed]
        called[:, feed], hidden = waiting * seen[feed], waiting * (1 - seen[feed])
    return called


def trial(truth: Truth, jars: int, rng: np.random.Generator) -> pd.DataFrame:
    """Make the outcomes of one trial; jars not seen recovered by feed eight are censored there."""
    plan = truth.plan(jars)
    chances = seen_chances(truth, plan)[rng.integers(0, 2, jars), np.arange(jars)]
    feed = (rng.random(jars)[:, None] > np.cumsum(chances, axis=1)).sum(axis=1) + 1
    recovered = feed <= MOST_FEEDS
    when = {"feeds_to_recovery": np.where(recovered, feed, np.nan), "feeds_observed": np.minimum(feed, MOST_FEEDS)}
    return plan.assign(**when, recovered=recovered)
