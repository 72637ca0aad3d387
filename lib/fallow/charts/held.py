"""From a stay in the cold to lines of the signature picture: a last feed on its bench, then in the fridge, by creep."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.charts.ledger_tables import earned_table, grams_text, shown_hours
from fallow.charts.time_axis import TimeAxis
from fallow.maths.cold import CREEP
from fallow.maths.draws import interval
from fallow.plans.clock import hours_between
from fallow.plans.hold import Hold
from fallow.plans.sides import LAB, YEAST, Clock

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Held:
    """The last feed before the cold, mixed at ``start``; ``place`` are the words under its grams."""

    name: str
    start: pd.Timestamp
    hold: Hold
    place: str

    def given_hours(self, axis: TimeAxis) -> float:
        """Return the hour on the axis at which it is given."""
        return hours_between(axis.start, self.start)

    def row(self, *, axis: TimeAxis, until: float) -> dict[str, object]:
        """Return the row of ``Ledger.feeds``; what would be ripe after ``until`` has no mark, for its seed is taken then."""
        at, hold = self.given_hours(axis), self.hold
        low, ripe, high = (at + hours for hours in _ripe(hold, YEAST))
        return {
            "feed": self.name,
            "at_hours": at,
            "until_hours": until,
            "dilution_doublings": hold.feed.doublings,
            "owed_doublings": hold.owed_before,
            "ripening_doublings": hold.culture.ripening_doublings.middle,
            "grams": grams_text(hold.feed),
            "place": self.place,
            "ripe_hours": shown_hours(ripe, until=until),
            "ripe_low_hours": low,
            "ripe_high_hours": high,
            "sour_hours": shown_hours(at + _ripe(hold, LAB)[1], until=until),
            "sour_doublings": hold.needed(LAB),
        }

    def earned(self, *, axis: TimeAxis, until: float) -> pd.DataFrame:
        """Return the rows of ``Ledger.earned``."""
        at = self.given_hours(axis)
        return held_lines(self.name, self.hold, hours=bent_hours(self.hold, until=until - at), at=at)


def held_lines(name: str, hold: Hold, *, hours: Array, at: float = 0.0) -> pd.DataFrame:
    """Return the rows of ``Ledger.earned`` of a hold by creep, at ``hours`` since its mix, which stands at ``at``."""
    yeast, sour = (hold.stay_drawn(clock, CREEP).by(hours=hours).T for clock in (YEAST, LAB))
    return earned_table(name, hours=at + hours, yeast=yeast, sour=sour)


def bent_hours(hold: Hold, *, until: float) -> Array:
    """Return hours since the mix, enough for lines that bend only where the place changes and while the jar cools."""
    chill = hold.warm.total_hours
    cold = max(until - chill, 0.0)
    cooled = np.linspace(0.0, min(8 * hold.cooling_hours, cold), 12)
    return np.unique(np.concatenate([np.linspace(0.0, chill, 13), chill + cooled, chill + np.linspace(0.0, cold, 31)]))


def _ripe(hold: Hold, clock: Clock) -> tuple[float, ...]:
    return interval(hold.stay_drawn(clock, CREEP).hours(doublings=hold.needed_drawn(clock)))
