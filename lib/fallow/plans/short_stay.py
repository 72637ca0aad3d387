"""What a stay of hours, or of a day or two, in the cold takes from a culture."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fallow.maths.debt import cold_doublings
from fallow.maths.defaults import DEFAULTS

Array = npt.NDArray[np.float64]

STEP_HOURS = 24.0
# Our choice: by then all but a twentieth of the first step has come in, 0.05 doublings, and the law's whole step is taken.
WHOLE_STEP_DAYS = 3.0


def short_stay_doublings(*, hours: npt.ArrayLike, temp_c: float) -> Array:
    """Return the doublings that a stay of some hours in the cold takes, on average: (step (1 - e^(-hours/24)) + k(T) days)/ln 2.

    Our choice: the first step of a long rest, 0.7, comes in over a day. What is published ties a lag to the size of the
    change of temperature, not to the hours; a whole step at once would make a quarter of an hour in the cold cost a doubling.

    >>> short_stay_doublings(hours=[0.0, 8.0, 72.0], temp_c=4.0).round(2).tolist()
    [0.0, 0.3, 1.05]
    """
    stay = np.atleast_1d(np.asarray(hours, dtype=float))
    whole = np.asarray(cold_doublings(days=stay / 24, temp_c=temp_c))
    not_yet = DEFAULTS.cold_step.middle / np.log(2) * np.exp(-stay / STEP_HOURS)
    return np.asarray(whole - not_yet)


def rest_doublings(*, days: float, temp_c: float) -> float:
    """Return the doublings that a rest of so many days takes, on average: a short stay's under three days, else the law's.

    So a way back and the plan that put the jar away agree about a weekend, and a jar that was never chilled owes nothing.

    >>> [round(rest_doublings(days=days, temp_c=4), 2) for days in (0.0, 1.0, 2.0, 3.0, 21.0)]
    [0.0, 0.67, 0.93, 1.1, 1.64]
    """
    if days < WHOLE_STEP_DAYS:
        return float(short_stay_doublings(hours=24 * days, temp_c=temp_c)[0])
    return float(cold_doublings(days=days, temp_c=temp_c))
