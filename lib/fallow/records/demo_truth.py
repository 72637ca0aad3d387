"""What is true in the invented trial, and what its cook would have seen: hidden debts, peaks, and looks by day."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from fallow.maths.ledger import earned_doublings
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.records.demo_design import Stream

TIME_ZONE = "Atlantic/Faroe"
ZONE = ZoneInfo(TIME_ZONE)
FIRST_LOOK, LAST_LOOK = time(6, 0), time(22, 0)
LOOK_EVERY_MINUTES, BASELINE_LOOK_EVERY_MINUTES = 40, 20
CARRY_TO_PLACE_MINUTES = 4


@dataclass(frozen=True, kw_only=True)
class CultureTruth:
    """One culture of the trial: its pace, its ripening constant and its rise when in form."""

    pace: float
    ripening_doublings: float
    rise_ratio: float


@dataclass(frozen=True, kw_only=True)
class Truth:
    """Every number the trial was made with; invented, and written into its folder.

    A debt W is what the law says: what a young jar still owed, less what the cold earned (creep), plus
    (lag + k(T) days) / ln 2. After a feed it is max(carried * W, W + log2(D) - pace * earned): a ripe feed repays all but
    the carried share. Rye moves no clock; it lowers the carried share.
    """

    seed: int = 20251004
    cultures: dict[str, CultureTruth] = field(
        default_factory=lambda: {
            "fulmar": CultureTruth(pace=0.86, ripening_doublings=1.05, rise_ratio=2.6),
            "kittiwake": CultureTruth(pace=0.97, ripening_doublings=1.20, rise_ratio=2.4),
            "razorbill": CultureTruth(pace=1.08, ripening_doublings=1.40, rise_ratio=2.9),
        }
    )
    decay_per_day_at_1_c: float = 0.020
    decay_q10: float = 5.0
    cold_lag_efolds: float = 0.7
    carried_fraction_white: float = 0.55
    carried_fraction_third_rye: float = 0.32
    jar_debt_log_sd: float = 0.40
    jar_carried_logit_sd: float = 0.50
    peak_sd_doublings: float = 0.12
    rise_lost_per_owed_doubling: float = 0.08
    rise_log_sd: float = 0.03
    reading_sd_mm: float = 0.5
    place_sd_c: float = 0.35
    start_height_mm: float = 31.0
    cooling_hours: float = 1.2
    missed_look_fraction: float = 0.04
    missing_height_fraction: float = 0.01

    def as_record(self) -> dict[str, object]:
        """Return the numbers as datapackage.json carries them."""
        return asdict(self)

    def decay_per_day(self, *, temp_c: float) -> float:
        """Return k(T) = k(1) Q10^((T - 1) / 10) per day."""
        return self.decay_per_day_at_1_c * float(self.decay_q10 ** ((temp_c - 1) / 10))

    def carried_fraction(self, *, rye_fraction: float) -> float:
        """Return the share of W that a ripe feed leaves, on white flour or with a third rye."""
        return self.carried_fraction_third_rye if rye_fraction else self.carried_fraction_white


@dataclass(frozen=True, kw_only=True)
class Look:
    """One look at a jar: when, how high, what the dome did, and how high the streak on the glass stands."""

    at: datetime
    height_mm: int | None
    streak_mm: int | None
    dome: str


@dataclass(frozen=True, kw_only=True)
class FedJar:
    """One feed as it truly was: who is in it, when, where, how far diluted, and what it owed."""

    name: str
    at: datetime
    culture: CultureTruth
    place_temp_c: float
    dilution: float
    owed_doublings: float

    def earned(self, *, hours: float) -> float:
        """Return pace * earned doublings after ``hours`` at the true temperature of its place."""
        return self.culture.pace * float(GAENZLE_1998_YEAST.per_hour(temp_c=self.place_temp_c)) * hours / math.log(2)


def debt_at_return(
    *, truth: Truth, culture: CultureTruth, bench_hours: float, cold_hours: float, hold_temp_c: float, draw: float
) -> float:
    """Return the debt of a jar on return; ``draw`` is its own standard normal number."""
    stay = Profile.constant(temp_c=21.0, hours=bench_hours).then(
        Profile.cooling(start_c=21.0, ambient_c=hold_temp_c, time_constant_hours=truth.cooling_hours, hours=cold_hours)
    )
    earned = culture.pace * float(earned_doublings(profile=stay, curve=GAENZLE_1998_YEAST))
    young = max(0.0, math.log2(11) - earned)
    lost = (truth.cold_lag_efolds + truth.decay_per_day(temp_c=hold_temp_c) * cold_hours / 24) / math.log(2)
    return young + lost * math.exp(truth.jar_debt_log_sd * draw - truth.jar_debt_log_sd**2 / 2)


def peak_hours(*, truth: Truth, feed: FedJar, draws: Stream) -> float:
    """Return hours from the feed to its peak: (log2 D + W + c + noise) / (pace * doublings per hour)."""
    needed = math.log2(feed.dilution) + feed.owed_doublings + feed.culture.ripening_doublings
    noise = truth.peak_sd_doublings * draws.normal(feed.name, "peak")
    return max(0.5, needed + noise) / feed.earned(hours=1.0)


def owed_next(*, feed: FedJar, hours: float, carried_fraction: float) -> float:
    """Return the debt after ``hours``: the law's, but never less than the carried share."""
    return max(
        carried_fraction * feed.owed_doublings,
        feed.owed_doublings + math.log2(feed.dilution) - feed.earned(hours=hours),
    )


def rounds(
    *, start: datetime, end: datetime, late_minutes: int, every_minutes: int = LOOK_EVERY_MINUTES
) -> Iterator[datetime]:
    """Give the hours at which the cook comes round, by the kitchen's clock, after ``start`` up to ``end``."""
    waking = (LAST_LOOK.hour - FIRST_LOOK.hour) * 60
    day = start.astimezone(ZONE).date()
    while True:
        for minutes in range(0, waking + 1, every_minutes):
            at = wall(day, FIRST_LOOK, minutes=minutes + late_minutes)
            if at > end:
                return
            if at > start:
                yield at
        day += timedelta(days=1)


def wall(day: date, clock: time, *, minutes: int = 0) -> datetime:
    """Return an instant by the kitchen's clock, in UTC."""
    return (datetime.combine(day, clock) + timedelta(minutes=minutes)).replace(tzinfo=ZONE).astimezone(UTC)


def dome(*, hours: float, peak: float) -> str:
    """Return what the surface does: domed up to the peak, flat for 40 minutes, then fallen."""
    if hours < peak:
        return "domed"
    return "flat" if hours < peak + 2 / 3 else "fallen"


def height_mm(*, hours: float, peak: float, start_mm: float, rise_mm: float) -> float:
    """Return the true height: an S-curve up to the peak, then a fall of 4 % of the rise an hour, to 45 % of it.

    >>> height_mm(hours=0, peak=8, start_mm=30, rise_mm=50), height_mm(hours=8, peak=8, start_mm=30, rise_mm=50)
    (30.0, 80.0)
    """
    if hours <= peak:
        part = float((hours / peak) ** 1.5)
        return start_mm + rise_mm * (3 * part**2 - 2 * part**3)
    return start_mm + rise_mm * max(0.45, 1 - 0.04 * (hours - peak))
