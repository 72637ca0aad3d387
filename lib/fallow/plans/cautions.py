"""Where work with a live starter can hurt someone: said beside the plan, deferring to local food-safety rules."""

from __future__ import annotations

from fallow.maths.defaults import DEFAULTS
from fallow.plans.places import Place

LOCAL_RULES = "Your local food-safety rules and licensed practice come first; this workbook does not replace them."
CLOSED_LID = "Never screw or clamp the lid: a sealed jar can build over a bar of pressure. Leave it loose."
RAW_FLOUR = (
    "Raw flour and raw starter can carry germs that acid and cold do not kill: do not taste them, wash hands and tools, "
    "bake discard before anyone eats it."
)
SPOILED = (
    "Mould, pink, orange or red, or a putrid smell end a jar: throw all of it away, wash the jar, start again from the "
    "reserve. Grey or brown liquid alone is alcohol and water: pour it off."
)
WARM_BOX = (
    "An improvised warm place can overheat: put a thermometer beside the jar, hang a note on an oven that warms one, "
    "and never run a microwave with the jar inside."
)
FRIDGE = (
    "Many fridges are warmer than they say: put a thermometer on the jar's shelf; food advice is 4 to 5 °C or below."
)
PAST_ITS_BEST = (
    "The feed that stands is long past its peak before it can be fed, and nobody has measured what that costs it: feed it as "
    "soon as you can or chill it, or go on from the old jar in the cold."
)
LOOKS_DISAGREE = (
    "Hardly any culture this plan believes possible explains what you saw, so its hours and chances stand on little. Check the "
    "heights, the hours and which feed stands, or look again in an hour."
)
ALWAYS = (RAW_FLOUR, CLOSED_LID, SPOILED, LOCAL_RULES)
_IMPROVISED_ABOVE_C = 25.0


def for_plan(places: tuple[Place, ...], *, trips: bool) -> tuple[str, ...]:
    """Return the cautions of a bring-back plan: above 28 degC a warning, warm boxes, the fridge, and what always holds.

    Raw flour, lids and spoilage: general food-safety advice, from memory; above 28 degC the published yeast curve falls
    (Gaenzle 1998).
    """
    hottest = max(place.hottest_c for place in places)
    warm = (WARM_BOX,) if hottest > _IMPROVISED_ABOVE_C else ()
    return (*_too_warm(places), *warm, *((FRIDGE,) if trips else ()), *ALWAYS)


def for_cold(place: Place) -> tuple[str, ...]:
    """Return the cautions of a jar that rises in a place and goes to the cold."""
    return (*_too_warm((place,)), FRIDGE, *ALWAYS)


def _too_warm(places: tuple[Place, ...]) -> tuple[str, ...]:
    """Return a warning of the hottest place above 28 degC; none where no place is."""
    place = max(places, key=lambda some: some.hottest_c)
    if place.hottest_c <= DEFAULTS.warn_above_c:
        return ()
    said = (
        f"{place.name[:1].upper()}{place.name[1:]} is {place.hottest_c:g} °C: above {DEFAULTS.warn_above_c:g} °C the yeast slows "
        f"while the acid goes on; above {DEFAULTS.refuse_above_c:g} °C it soon stops. A little cooler is safer for the culture."
    )
    return (said,)
