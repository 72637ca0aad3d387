"""Growth rates at a temperature: the published curves and the general models, in one place to import from."""

from fallow.maths.cardinal import cardinal_general, cardinal_ph, cardinal_rate
from fallow.maths.curve_forms import CardinalForm, TailForm
from fallow.maths.published import (
    GAENZLE_1998_LAB,
    GAENZLE_1998_YEAST,
    SALVADO_2011_YEAST,
    PublishedCurve,
)
from fallow.maths.q10 import arrhenius_q10, arrhenius_rate, q10_from_rates, q10_rate
from fallow.maths.ratkowsky import ratkowsky_optimum_c, ratkowsky_rate, square_root_from_rates, square_root_rate

PUBLISHED_CURVES = (GAENZLE_1998_YEAST, GAENZLE_1998_LAB, SALVADO_2011_YEAST)

__all__ = [
    "GAENZLE_1998_LAB",
    "GAENZLE_1998_YEAST",
    "PUBLISHED_CURVES",
    "SALVADO_2011_YEAST",
    "CardinalForm",
    "PublishedCurve",
    "TailForm",
    "arrhenius_q10",
    "arrhenius_rate",
    "cardinal_general",
    "cardinal_ph",
    "cardinal_rate",
    "q10_from_rates",
    "q10_rate",
    "ratkowsky_optimum_c",
    "ratkowsky_rate",
    "square_root_from_rates",
    "square_root_rate",
]
