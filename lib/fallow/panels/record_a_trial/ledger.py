"""When a jar's newest feed should be ripe, by the ledger: its own grams, place and debt."""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import dataclass, replace

import pandas as pd

from fallow.maths.cold import CREEP
from fallow.maths.debt import cold_doublings, owed_on_return
from fallow.maths.defaults import DEFAULTS, Defaults, Spread
from fallow.maths.draws import culture_draws
from fallow.maths.forecast import RipeForecast, yeast_forecast
from fallow.maths.ledger import earned_doublings, owed_after
from fallow.maths.profile import Profile
from fallow.maths.published import GAENZLE_1998_YEAST

HORIZON_HOURS = 72.0
DRAWS, SEED = 100, 20261203
_Z90 = 1.645


@dataclass(frozen=True, kw_only=True)
class CultureNumbers:
    """A culture's pace and ripening constant with their spread, its own where measured."""

    pace: Spread = DEFAULTS.pace
    ripening_doublings: Spread = DEFAULTS.ripening_doublings

    @classmethod
    def of(cls, row: pd.Series) -> CultureNumbers:
        """Return what a row of cultures.csv says, the defaults where it says nothing."""
        return cls(
            pace=_spread(row, "pace", DEFAULTS.pace),
            ripening_doublings=_spread(row, "ripening_doublings", DEFAULTS.ripening_doublings),
        )

    def defaults(self) -> Defaults:
        """Return all defaults with these two in them."""
        return replace(DEFAULTS, pace=self.pace, ripening_doublings=self.ripening_doublings)


def _spread(row: pd.Series, name: str, usual: Spread) -> Spread:
    middle, low, high = (float(row[name + end]) for end in ("", "_low", "_high"))
    if not middle > 0:
        return usual
    sd = (high - low) / (2 * _Z90) if high > low else usual.sd
    return Spread(middle=middle, sd=sd, source="this culture's own feeds")


@functools.lru_cache(maxsize=4096)
def ripe(*, dilution: float, place_temp_c: float, owed: float, numbers: CultureNumbers) -> RipeForecast:
    """Return when a feed at a steady place is ripe, hours after the mix with the 90 % interval; creep where it is cold."""
    return yeast_forecast(
        dilution=dilution,
        profile=Profile.constant(temp_c=place_temp_c, hours=HORIZON_HOURS),
        draws=culture_draws(count=DRAWS, seed=SEED, owed_doublings=owed, defaults=numbers.defaults()),
        cold=CREEP,
    )


def owed_before_last(feeds: pd.DataFrame, *, jar: pd.Series, numbers: CultureNumbers) -> float:
    """Return the doublings a jar owed before its newest feed; 0 for one that was never put away.

    ``feeds`` are the jar's own, in order of time. W is followed feed by feed by the law; a gap in the record (no grams,
    no temperature) leaves it as it was.
    """
    owed = 0.0
    hold = _hold(jar)
    rows = list(feeds.itertuples(index=False))
    for this, following in itertools.pairwise(rows):
        if hold is not None and this.at < hold[0] <= hold[1] <= following.at:
            owed = _across_cold(this, hold, float(jar["hold_temp_c"]), owed, numbers.pace.middle)
            continue
        hours = (following.at - this.at).total_seconds() / 3600
        if this.dilution >= 1 and math.isfinite(this.place_temp_c):
            earned = _earned(float(this.place_temp_c), hours)
            owed = float(
                owed_after(owed_doublings=owed, dilution=this.dilution, earned=earned, pace=numbers.pace.middle)
            )
    return owed


def _hold(jar: pd.Series) -> tuple[pd.Timestamp, pd.Timestamp] | None:
    known = pd.notna(jar["put_away_at"]) and pd.notna(jar["out_at"]) and pd.notna(jar["hold_temp_c"])
    return (jar["put_away_at"], jar["out_at"]) if known else None


def _across_cold(
    feed: object, hold: tuple[pd.Timestamp, pd.Timestamp], hold_temp_c: float, owed: float, pace: float
) -> float:
    """Return what the jar owes on return, by creep."""
    days = (hold[1] - hold[0]).total_seconds() / 86400
    if not (feed.dilution >= 1 and math.isfinite(feed.place_temp_c)):
        return owed + float(cold_doublings(days=days, temp_c=hold_temp_c))
    warm_hours = (hold[0] - feed.at).total_seconds() / 3600
    on_return = owed_on_return(
        dilution=float(feed.dilution),
        earned_until_return=_earned(float(feed.place_temp_c), warm_hours) + _earned(hold_temp_c, 24 * days),
        days=days,
        hold_temp_c=hold_temp_c,
        cold=CREEP,
        owed_doublings=owed,
        pace=pace,
    )
    return float(on_return.doublings)


@functools.lru_cache(maxsize=4096)
def _earned(temp_c: float, hours: float) -> float:
    if hours <= 0:
        return 0.0
    return float(earned_doublings(profile=Profile.constant(temp_c=temp_c, hours=hours), curve=GAENZLE_1998_YEAST))
