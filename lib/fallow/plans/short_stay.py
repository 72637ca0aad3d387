"""What a stay of hours, not days, in the cold takes from a culture."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from fallow.maths.debt import cold_doublings
from fallow.maths.defaults import DEFAULTS

Array = npt.NDArray[np.float64]

STEP_HOURS = 24.0


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
