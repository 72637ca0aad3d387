"""Where the likelihood without penalty is highest: statsmodels' binomial regression on the counted patterns."""

from __future__ import annotations

import warnings

import numpy as np
import numpy.typing as npt

from fallow.stats.likelihood import HazardLikelihood, Peak
from fallow.stats.links import CLOGLOG

Floats = npt.NDArray[np.float64]
ROUNDS = 200


def plain_peak(likelihood: HazardLikelihood, start: Floats) -> Peak:
    """Give the maximum of the likelihood without penalty, found by statsmodels (iteratively reweighted least squares).

    Where a hazard runs off to 0 or 1 there is no maximum; statsmodels then stops with that row's hazard within a
    rounding error of it and warns. That warning is kept from the reader here, for ``fit_patterns`` finds such rows,
    leaves them out and says so in a sentence.
    """
    # A page that fits fewer than 200 jars never needs it, and it takes a second to load.
    from statsmodels.genmod import families
    from statsmodels.genmod.generalized_linear_model import GLM

    links = families.links
    family = families.Binomial(links.CLogLog() if likelihood.link is CLOGLOG else links.Logit())
    counts = np.column_stack([likelihood.events, likelihood.at_risk - likelihood.events])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        model = GLM(counts, likelihood.matrix, family=family)
        found = model.fit(start_params=start, maxiter=ROUNDS, tol=1e-11, tol_criterion="params")
    beta = np.asarray(found.params, dtype=float)
    value = float(likelihood.plain(beta[None, :])[0])
    return Peak(beta, value, int(found.fit_history["iteration"]), settled=bool(found.converged))
