"""The two clocks of a jar as objects: the yeast's, which says when it rises, and the acid bacteria's, when it sours."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from operator import attrgetter

from fallow.maths.cold import StatedCurve
from fallow.maths.defaults import Spread
from fallow.maths.rates import GAENZLE_1998_LAB, GAENZLE_1998_YEAST
from fallow.plans.draws import Array, Culture, Draws


@dataclass(frozen=True, kw_only=True)
class Clock:
    """One clock: its word, its published curve, its ripening constant, and how much of what is owed acts on it."""

    word: str
    curve: StatedCurve
    ripening: Callable[[Culture], Spread]
    drawn_ripening: Callable[[Draws], Array]
    drawn_pace: Callable[[Draws], Array]
    owed_share: float


YEAST = Clock(
    word="yeast",
    curve=GAENZLE_1998_YEAST,
    ripening=attrgetter("ripening_doublings"),
    drawn_ripening=attrgetter("ripening"),
    drawn_pace=attrgetter("pace"),
    owed_share=1.0,
)
LAB = Clock(
    word="lab",
    curve=GAENZLE_1998_LAB,
    ripening=attrgetter("lab_ripening_doublings"),
    drawn_ripening=attrgetter("lab_ripening"),
    drawn_pace=attrgetter("lab_pace"),
    owed_share=0.0,
)
CLOCKS = (YEAST, LAB)
