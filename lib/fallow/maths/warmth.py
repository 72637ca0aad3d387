"""How warm a place may be as part of a plan: above 28 degC a warning, above 30 degC a refusal."""

from __future__ import annotations

from fallow.maths.arguments import kitchen_temperature
from fallow.maths.defaults import DEFAULTS


def place_warning(*, temp_c: float) -> str:
    """Return what to say about a place's temperature, or nothing up to 28 degC.

    Our choice of limits. The published yeast curve halves between 28 and 32 degC (Gaenzle 1998), and an
    improvised warm box can run away.

    >>> place_warning(temp_c=26)
    ''
    >>> place_warning(temp_c=29)
    'A place of 29 °C is above 28 °C, where the yeast starts to fall behind. Keep a thermometer beside the jar.'
    """
    temp = float(kitchen_temperature("temp_c", temp_c))
    if temp <= DEFAULTS.warn_above_c:
        return ""
    return (
        f"A place of {temp:g} °C is above {DEFAULTS.warn_above_c:g} °C, where the yeast starts to fall behind. "
        "Keep a thermometer beside the jar."
    )


def refuse_hot_place(*, temp_c: float, name: str = "temp_c") -> float:
    """Return the temperature of a place that a plan may use, or refuse one above 30 degC.

    Our choice of limit, as in ``place_warning``. ``name`` is what the reader called the place.

    >>> refuse_hot_place(temp_c=30)
    30.0
    >>> refuse_hot_place(temp_c=34)
    Traceback (most recent call last):
    ValueError: temp_c is 34 °C; a plan warms a jar to at most 30 °C. Let the place cool, or choose another.
    """
    temp = float(kitchen_temperature(name, temp_c))
    if temp > DEFAULTS.refuse_above_c:
        message = (
            f"{name} is {temp:g} °C; a plan warms a jar to at most {DEFAULTS.refuse_above_c:g} °C. "
            "Let the place cool, or choose another."
        )
        raise ValueError(message)
    return temp
