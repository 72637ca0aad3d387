"""Lines fitted once for each of a few draws of the cultures' clocks, and put together with the doubt of both."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import ndtri
from scipy.stats import t as student

from fallow.maths.arguments import Array
from fallow.stats.cold import ColdFit
from fallow.stats.intervals import IntervalLine

# Draws of pace and c over which their shared doubt is carried.
CLOCKS = 12
# Our choice: told with Student's t below thirty jars.
FEW_BELOW = 30
#: How many standard errors a 90 % interval reaches to either side.
REACH = float(ndtri(0.95))


def clock_of(fit: ColdFit, cultures: pd.Series, *, clock: int) -> tuple[Array, Array]:
    """Return pace and c of each row's culture, as one of ``CLOCKS`` draws has them."""
    at = {name: clock * len(each.pace) // CLOCKS for name, each in fit.believed.items()}
    pace = cultures.map({name: each.pace[at[name]] for name, each in fit.believed.items()})
    ripening = cultures.map({name: each.ripening[at[name]] for name, each in fit.believed.items()})
    return pace.to_numpy(float), ripening.to_numpy(float)


def pooled(lines: Sequence[IntervalLine], *, jars: int) -> tuple[Array, Array]:
    """Return coefficients and covariance over the clocks: mean within plus (1 + 1/m) between (Rubin's rules, memory).

    Below thirty jars the error within is enlarged by n/(n - p), as in least squares, and all of it so that ``REACH`` standard
    errors make Student's interval.
    """
    estimates = np.array([line.coefficients for line in lines])
    size = estimates.shape[1]
    within = np.mean([line.covariance[:size, :size] for line in lines], axis=0)
    between = np.atleast_2d(np.cov(estimates, rowvar=False)) * (1 + 1 / len(lines))
    if jars >= FEW_BELOW:
        return estimates.mean(axis=0), within + between
    wider = (float(student.ppf(0.95, jars - size)) / REACH) ** 2
    return estimates.mean(axis=0), wider * (within * jars / (jars - size) + between)
