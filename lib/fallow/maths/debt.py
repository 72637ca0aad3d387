"""What a jar owes when it comes out of the cold: what it was chilled without having earned, and what the cold took."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import FloatOrArray, Number, kitchen_temperature, plain
from fallow.maths.cold import ColdScenario
from fallow.maths.decay import BREWING_YEAST_PRIOR, ColdLossPrior
from fallow.maths.defaults import DEFAULTS, Spread
from fallow.maths.ledger import owed_after

_LN2 = float(np.log(2.0))


@dataclass(frozen=True, kw_only=True)
class OwedOnReturn:
    """Doublings owed on return, in its two parts, under one story about the cold; ``label`` says whose numbers.

    ``cold_doublings`` is the sum of a first step and a daily loss; nothing published splits or confirms it.
    """

    chilled_young_doublings: FloatOrArray
    cold_doublings: FloatOrArray
    cold: ColdScenario
    label: str

    @property
    def doublings(self) -> FloatOrArray:
        """Both parts together."""
        return self.chilled_young_doublings + self.cold_doublings


def cold_doublings(
    *, days: Number, temp_c: Number, prior: ColdLossPrior = BREWING_YEAST_PRIOR, step: Spread = DEFAULTS.cold_step
) -> FloatOrArray:
    """Return the doublings that ``days`` in the cold take: (step + k(T) days) / ln 2, the step 0.7   (design law).

    The daily loss k is that of brewing yeast kept six days: a prior, not a fact (``prior.label`` says so).

    >>> round(cold_doublings(days=21, temp_c=4), 2)
    1.64
    """
    lost = step.middle / _LN2 + prior.lost_doublings(days=days, temp_c=kitchen_temperature("temp_c", temp_c))
    return plain(np.asarray(lost))


def owed_on_return(
    *,
    dilution: Number,
    earned_until_return: Number,
    days: Number,
    hold_temp_c: Number,
    cold: ColdScenario,
    owed_doublings: Number = 0.0,
    pace: Number = 1.0,
    prior: ColdLossPrior = BREWING_YEAST_PRIOR,
    step: Spread = DEFAULTS.cold_step,
) -> OwedOnReturn:
    """Return what a jar owes when it comes back, its two parts named.

    owed = max(0, W before + log2(D) - pace * earned until return) + (0.7 + k(T) days)/ln 2   (design law)

    Parameters
    ----------
    earned_until_return
        ``earned_doublings`` of the whole history until return, under the same story ``cold``.
    days, hold_temp_c
        Days in the cold and its temperature, degC.

    Examples
    --------
    >>> from fallow.maths.cold import STOP
    >>> owed = owed_on_return(dilution=8, earned_until_return=2.0, days=21, hold_temp_c=4, cold=STOP)
    >>> owed.chilled_young_doublings, round(owed.cold_doublings, 2), round(owed.doublings, 2), str(owed.cold)
    (1.0, 1.64, 2.64, 'stop')
    """
    young = owed_after(owed_doublings=owed_doublings, dilution=dilution, earned=earned_until_return, pace=pace)
    return OwedOnReturn(
        chilled_young_doublings=young,
        cold_doublings=cold_doublings(days=days, temp_c=hold_temp_c, prior=prior, step=step),
        cold=cold,
        label=prior.label,
    )
