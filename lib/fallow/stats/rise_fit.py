"""What one rise curve says, or why it says nothing."""

from __future__ import annotations

from dataclasses import dataclass

NOT_TOLD = float("nan")


@dataclass(frozen=True)
class RiseFit:
    """A rise curve up to its peak. Heights are in the unit they came in; intervals are 90 %.

    ``hours_to_peak`` lies between two looks: its interval runs from the last look clearly below the peak to the first
    clearly past it (infinite when none was). ``peak`` is the fitted height the curve levels off at, ``rate_per_hour``
    its steepest slope, ``lag_hours`` where that slope meets the starting height. Where ``identified`` is False, ``why``
    says in a sentence what is missing, ``peak`` is the highest reading, and what was not told is NaN.
    """

    hours_to_peak: float
    hours_to_peak_low: float
    hours_to_peak_high: float
    peak: float
    peak_low: float
    peak_high: float
    rate_per_hour: float
    rate_per_hour_low: float
    rate_per_hour_high: float
    lag_hours: float
    lag_hours_low: float
    lag_hours_high: float
    model: str
    rss: float
    readings: int
    identified: bool
    kind: str
    why: str
