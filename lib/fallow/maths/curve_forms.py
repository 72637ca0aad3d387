"""The equations behind the published temperature curves, each with the temperatures where it breaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np

from fallow.maths.arguments import Array, FloatOrArray, Number, finite, plain
from fallow.maths.cardinal import cardinal_rate, share_of_best


class Form(Protocol):
    """What the equation of a curve must answer."""

    @property
    def optimum_c(self) -> float:
        """Temperature of fastest growth, degC."""
        ...

    @property
    def breaks_c(self) -> tuple[float, ...]:
        """Temperatures at which the equation changes, degC."""
        ...

    def per_hour(self, *, temp_c: Array) -> Array:
        """Return the growth rate per hour."""
        ...


@dataclass(frozen=True, kw_only=True)
class TailForm:
    """A gamma-like curve in the distance x below the highest temperature: mu = a x^b exp(-c x), x = Tmax - T.

    Source: Gaenzle, Ehmann & Hammes 1998, Appl. Environ. Microbiol. 64:2616-2623. 0 for x <= 0; no lowest
    temperature: in the cold it falls towards zero and never reaches it.
    """

    a: float
    b: float
    c: float
    max_c: float

    @property
    def optimum_c(self) -> float:
        """Tmax - b/c (derived)."""
        return self.max_c - self.b / self.c

    @property
    def breaks_c(self) -> tuple[float, ...]:
        """Tmax alone."""
        return (self.max_c,)

    def per_hour(self, *, temp_c: Array) -> Array:
        """Return the growth rate per hour."""
        below = self.max_c - temp_c
        inside = below > 0
        x = np.where(inside, below, 1.0)
        # In logarithms, so that no temperature can make a power overflow.
        return np.asarray(np.where(inside, self.a * np.exp(self.b * np.log(x) - self.c * x), 0.0))

    def q10(self, *, temp_c: Number) -> FloatOrArray:
        """Return the local Q10, exp[10 (c - b/x)] (derived); meant below the optimum, where it is above 1.

        >>> round(TailForm(a=0.0124, b=2.981, c=0.3355, max_c=36).q10(temp_c=4), 1)
        11.3
        """
        x = self.max_c - finite("temp_c", temp_c)
        if np.any(x <= 0):
            message = f"temp_c reaches {self.max_c:g} °C, where growth stops; a Q10 needs growth. Ask below it."
            raise ValueError(message)
        return plain(np.asarray(np.exp(10.0 * (self.c - self.b / x))))


@dataclass(frozen=True, kw_only=True)
class CardinalForm:
    """The cardinal-temperature model of ``cardinal_rate`` with its four numbers."""

    min_c: float
    opt_c: float
    max_c: float
    opt_per_hour: float

    def __post_init__(self) -> None:
        cardinal_rate(
            temp_c=self.opt_c,
            min_c=self.min_c,
            opt_c=self.opt_c,
            max_c=self.max_c,
            opt_per_hour=self.opt_per_hour,
        )

    @property
    def optimum_c(self) -> float:
        """Topt itself."""
        return self.opt_c

    @property
    def breaks_c(self) -> tuple[float, ...]:
        """Tmin and Tmax."""
        return (self.min_c, self.max_c)

    def per_hour(self, *, temp_c: Array) -> Array:
        """Return the growth rate per hour."""
        low, best, high = np.asarray(self.min_c), np.asarray(self.opt_c), np.asarray(self.max_c)
        return np.asarray(self.opt_per_hour * share_of_best(temp_c, low, best, high, np.asarray(2.0)))
