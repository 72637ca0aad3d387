"""The two stories about the cold, kept apart: growth creeps on below what was measured, or it stops.

Nobody has published growth in refrigerated starters, so which one holds is not known. Every forecast that crosses cold
hours carries its story and says the word.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from fallow.maths.arguments import FloatOrArray, Number, finite, plain

# Our choice: authors state whole degrees and thermometers read tenths, so 4.04 °C counts as 4 °C.
READING_HALF_STEP_C = 0.05


class StatedCurve(Protocol):
    """A published curve whose author also states where growth stops."""

    @property
    def no_growth_below_c(self) -> float:
        """The author's no-growth temperature, degC."""
        ...

    @property
    def measured_c(self) -> tuple[float, float]:
        """Lowest and highest temperature measured, degC."""
        ...

    @property
    def breaks_c(self) -> tuple[float, ...]:
        """Temperatures where the form breaks, degC."""
        ...

    def per_hour(self, *, temp_c: Number) -> FloatOrArray:
        """Return the growth rate per hour."""
        ...

    def extrapolated(self, *, temp_c: Number) -> FloatOrArray:
        """Return whether a temperature lies outside what was measured."""
        ...


@dataclass(frozen=True, kw_only=True)
class StoppedCurve:
    """A published curve cut to zero at and below its author's no-growth temperature."""

    published: StatedCurve

    @property
    def no_growth_below_c(self) -> float:
        """The author's no-growth temperature, degC."""
        return self.published.no_growth_below_c

    @property
    def measured_c(self) -> tuple[float, float]:
        """Lowest and highest temperature measured, degC."""
        return self.published.measured_c

    @property
    def _edge_c(self) -> float:
        return self.published.no_growth_below_c + READING_HALF_STEP_C

    @property
    def breaks_c(self) -> tuple[float, ...]:
        """Where the published form breaks, and where growth stops."""
        return tuple(sorted({*self.published.breaks_c, self._edge_c}))

    def per_hour(self, *, temp_c: Number) -> FloatOrArray:
        """Return the growth rate per hour: zero at and below the no-growth temperature (to 0.05 degC)."""
        temp = finite("temp_c", temp_c)
        return plain(np.where(temp > self._edge_c, self.published.per_hour(temp_c=temp), 0.0))

    def extrapolated(self, *, temp_c: Number) -> FloatOrArray:
        """Return whether a temperature lies outside what was measured."""
        return self.published.extrapolated(temp_c=temp_c)


def _carried_on(published: StatedCurve) -> StatedCurve:
    return published


def _cut_off(published: StatedCurve) -> StatedCurve:
    return StoppedCurve(published=published)


@dataclass(frozen=True, kw_only=True)
class ColdScenario:
    """One story about the cold: its word, what it says, and what it makes of a published curve."""

    word: str
    says: str
    turn: Callable[[StatedCurve], StatedCurve]

    def curve(self, published: StatedCurve) -> StatedCurve:
        """Return the published curve as this story has it.

        Gaenzle's own plain summary of the 1998 model has no growth at 8 degC; the equation gives 0.0083 per hour at 4 degC:

        >>> from fallow.maths.rates import GAENZLE_1998_YEAST
        >>> round(CREEP.curve(GAENZLE_1998_YEAST).per_hour(temp_c=4), 4)
        0.0083
        >>> STOP.curve(GAENZLE_1998_YEAST).per_hour(temp_c=4)
        0.0
        """
        return self.turn(published)

    def __str__(self) -> str:
        return self.word


CREEP = ColdScenario(
    word="creep", says="growth creeps on below the coldest temperature that was measured", turn=_carried_on
)
STOP = ColdScenario(word="stop", says="growth stops at the temperature below which its author saw none", turn=_cut_off)
COLD_SCENARIOS = (CREEP, STOP)
