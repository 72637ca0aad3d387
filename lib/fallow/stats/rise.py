"""Rise curves: when a jar peaked, how fast it rose and how long it waited, or an honest 'not told'."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pandas as pd
from tqdm import tqdm

from fallow.maths.growth import gompertz, logistic
from fallow.stats.least_squares import LeastSquaresFit, fit_curve
from fallow.stats.rise_fit import NOT_TOLD, RiseFit

Floats = npt.NDArray[np.float64]
FEWEST = 6
FALL = 0.05
HIGHEST_CEILING = 3.0
REACHED = 0.8
LOOSEST = 0.15
FLAT = 5.0


@dataclass(frozen=True)
class RiseModel:
    """A curve of height above the start: rise (its ceiling), steepest slope, lag; where its slope is steepest."""

    name: str
    height: Callable[..., Any]
    steepest: Callable[[float, float, float], float]


#: Zwietering et al. 1990, Appl. Environ. Microbiol. 56:1875-1881: inflection at lag + A/(mu e) and lag + A/(2 mu).
GOMPERTZ = RiseModel("gompertz", gompertz, lambda rise, rate, lag: lag + rise / (rate * np.e))
LOGISTIC = RiseModel("logistic", logistic, lambda rise, rate, lag: lag + rise / (2 * rate))
MODELS = (GOMPERTZ, LOGISTIC)


def fit_rise(*, hours: npt.ArrayLike, height: npt.ArrayLike, models: tuple[RiseModel, ...] = MODELS) -> RiseFit:
    """Fit the rise of one jar up to its peak, or say why it cannot be.

    Heights above the first reading are fitted by the modified Gompertz and the modified logistic curve (Zwietering et
    al. 1990; fair descriptions up to the peak only) and the closer one is kept. Readings after a fall of more than 5 %
    of the rise are left out (the rule of Landis et al. 2021, eLife 10:e61644). Refused, with the reason: fewer than six
    readings, no rise beyond the noise, a peak not yet seen (less than 0.8 of the fitted ceiling reached, or an interval
    beyond three times the highest reading), a rise between two looks, a curve no smooth rise fits. Thresholds are our
    choice.
    Raises ValueError when hours and height differ in length or an hour is not a finite number of zero or more.

    >>> t = np.arange(0, 12.5, 0.5)
    >>> fit = fit_rise(hours=t, height=20 + gompertz(hours=t, rise=50.0, rate_per_hour=12.0, lag_hours=2.0))
    >>> fit.model, round(fit.rate_per_hour, 3), round(fit.lag_hours, 3), round(fit.peak, 1)
    ('gompertz', 12.0, 2.0, 70.0)
    """
    when, seen = _readings(hours, height)
    if not len(when):
        return _refused(when, seen, "no readings", "There is no reading; a rise needs at least six up to its peak.")
    start, rise, noise = seen[0], float(np.max(seen) - seen[0]), _noise(seen)
    if rise <= FLAT * noise or rise <= 0:
        why = f"The jar rose by {rise:.3g}, within the scatter of its readings, so there is no rise to fit."
        return _refused(when, seen, "flat", why)
    if len(when) < FEWEST:
        why = f"{len(when)} readings up to the peak; a rise needs at least {FEWEST}. Look more often."
        return _refused(when, seen, "too few readings", why)
    fits = {model: _fitted(model, when, seen - start, rise) for model in models}
    model = min(fits, key=lambda one: fits[one].rss)
    kind, why = _doubt(model, fits[model], when, seen - start, rise)
    return _refused(when, seen, kind, why) if why else _told(model, fits[model], when, seen)


def fit_all(curves: Mapping[str, tuple[npt.ArrayLike, npt.ArrayLike]], *, progress: bool = True) -> pd.DataFrame:
    """Fit many curves, each (hours, height), with a progress bar; one row per curve, the columns of ``RiseFit``."""
    bar: Iterable[tuple[str, tuple[npt.ArrayLike, npt.ArrayLike]]] = curves.items()
    shown = tqdm(bar, total=len(curves), desc="rise curves", unit="curve", disable=not progress)
    fits = {name: vars(fit_rise(hours=hours, height=height)) for name, (hours, height) in shown}
    return pd.DataFrame.from_dict(fits, orient="index").rename_axis("curve")


def count_kinds(fits: pd.DataFrame) -> pd.DataFrame:
    """Count the fits of ``fit_all`` by kind, with one of the reasons given for each."""
    grouped = fits.groupby("kind", sort=True)
    counted = pd.DataFrame({"curves": grouped.size(), "for_example": grouped["why"].first()})
    return counted.sort_values("curves", ascending=False).reset_index()


def _readings(hours: npt.ArrayLike, height: npt.ArrayLike) -> tuple[Floats, Floats]:
    """Sort by hour, leave out missing heights, and stop before the first fall of more than 5 % of the rise."""
    when, seen = np.asarray(hours, dtype=float), np.asarray(height, dtype=float)
    if when.ndim != 1 or when.shape != seen.shape:
        message = (
            f"hours has {when.size} values and height {seen.size}; they go in pairs. Leave a missing height empty."
        )
        raise ValueError(message)
    if not np.all(np.isfinite(when)) or np.any(when < 0):
        wrong = when[~(np.isfinite(when) & (when >= 0))][0]
        message = f"hours holds {wrong:g}; hours since the feed are zero or more. Correct the time of that reading."
        raise ValueError(message)
    order = np.argsort(when, kind="stable")
    order = order[np.isfinite(seen[order])]
    when, seen = when[order], seen[order]
    if not len(seen):
        return when, seen
    top = int(np.argmax(seen))
    fallen = np.flatnonzero(seen[top:] < seen[top] - FALL * (seen[top] - seen[0]))
    end = top + int(fallen[0]) if len(fallen) and seen[top] > seen[0] else len(seen)
    return when[:end], seen[:end]


def _noise(seen: Floats) -> float:
    """Estimate the scatter of single readings from their second differences (robust; zero for a smooth record)."""
    return float(1.4826 * np.median(np.abs(np.diff(seen, 2))) / np.sqrt(6)) if len(seen) > 4 else 0.0


def _fitted(model: RiseModel, when: Floats, increment: Floats, rise: float) -> LeastSquaresFit:
    """Fit in units of the rise and of the record's length, so that one set of limits and starts serves every jar."""
    span = float(when[-1] - when[0]) or 1.0
    clock, share = (when - when[0]) / span, increment / rise

    def curve(values: Floats) -> Floats:
        return np.asarray(model.height(hours=clock, rise=values[0], rate_per_hour=values[1], lag_hours=values[2]))

    limits = {"low": (0.5, 0.01, -1.0), "high": (HIGHEST_CEILING, 500.0, 1.5)}
    fit = fit_curve(curve, share, starts=_starts(clock, share), **limits)
    unit = np.array([rise, rise / span, span])
    moved = fit.estimates * unit + np.array([0.0, 0.0, float(when[0])])
    return replace(fit, estimates=moved, covariance=fit.covariance * np.outer(unit, unit), rss=fit.rss * rise**2)


def _starts(clock: Floats, share: Floats) -> list[tuple[float, float, float]]:
    """Guess slope and lag from the times a tenth, a half and nine tenths of the rise were first passed."""
    tenth, half, most = (float(clock[np.argmax(share >= level)]) for level in (0.1, 0.5, 0.9))
    slope = 0.8 / max(most - tenth, 1e-2)
    return [(1.05, 1.2 * slope, tenth), (1.5, slope, max(half - 0.5 / slope, 0.0))]


def _doubt(model: RiseModel, fit: LeastSquaresFit, when: Floats, increment: Floats, rise: float) -> tuple[str, str]:
    """Say in a sentence why the fit must not be believed; empty when it may."""
    ceiling, rate, lag = (float(value) for value in fit.estimates)
    high, scatter = float(fit.interval[1][0]), float(np.sqrt(fit.rss / fit.degrees))
    beyond = np.fmax(ceiling * 1.01, high) > HIGHEST_CEILING * rise
    if model.steepest(ceiling, rate, lag) > when[-1] or rise < REACHED * ceiling or beyond:
        return "still rising", "The jar was still rising at its last reading, so how high it would go is not told."
    if fit.at_limit or np.isnan(high):
        return "between two looks", "The rise falls between two looks, so how fast it was is not told. Look more often."
    if scatter > LOOSEST * rise:
        return "no smooth rise", f"The readings lie {scatter:.3g} off any smooth rise, too far to read one from them."
    return "", ""


def _told(model: RiseModel, fit: LeastSquaresFit, when: Floats, seen: Floats) -> RiseFit:
    (peak, rate, lag), (low, high) = fit.estimates, fit.interval
    scatter = float(np.sqrt(fit.rss / fit.degrees))
    told: dict[str, Any] = {
        "model": model.name,
        "rss": fit.rss,
        "identified": True,
        "kind": f"fitted by {model.name}",
        "why": "",
    }
    return RiseFit(
        **_peak_time(when, seen, scatter),
        **_with_ends("peak", seen[0] + peak, seen[0] + low[0], seen[0] + high[0]),
        **_with_ends("rate_per_hour", rate, low[1], high[1]),
        **_with_ends("lag_hours", lag, low[2], high[2]),
        **told,
        readings=len(when),
    )


def _refused(when: Floats, seen: Floats, kind: str, why: str) -> RiseFit:
    top = float(np.max(seen)) if len(seen) else NOT_TOLD
    untold: dict[str, Any] = {"model": "", "rss": NOT_TOLD, "identified": False, "kind": kind, "why": why}
    return RiseFit(
        **_peak_time(when, seen, _noise(seen)),
        **_with_ends("peak", top, top, NOT_TOLD),
        **_with_ends("rate_per_hour", NOT_TOLD, NOT_TOLD, NOT_TOLD),
        **_with_ends("lag_hours", NOT_TOLD, NOT_TOLD, NOT_TOLD),
        **untold,
        readings=len(when),
    )


def _with_ends(name: str, value: float, low: float, high: float) -> dict[str, Any]:
    return {name: float(value), f"{name}_low": float(low), f"{name}_high": float(high)}


def _peak_time(when: Floats, seen: Floats, scatter: float) -> dict[str, Any]:
    """Give the hour of the highest reading, and the looks that bound it: those clearly (two scatters) below the top."""
    if not len(seen):
        return _with_ends("hours_to_peak", NOT_TOLD, NOT_TOLD, NOT_TOLD)
    top = int(np.argmax(seen))
    below = seen < seen[top] - 2 * scatter
    before, after = np.flatnonzero(below[:top]), np.flatnonzero(below[top:])
    low = float(when[before[-1]]) if len(before) else float(when[0])
    high = float(when[top + after[0]]) if len(after) else float("inf")
    return _with_ends("hours_to_peak", float(when[top]), low, high)
