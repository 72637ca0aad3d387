"""Where a jar can stand: a name, a temperature by day and one by night; too hot a place is refused."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fallow.maths.arguments import kitchen_temperature
from fallow.maths.warmth import refuse_hot_place

COLDEST_SHELF_C, WARMEST_SHELF_C = -1.0, 15.0
# Start values: means of 200 home refrigerators (top, bottom, door; a published survey); the bottom stands for the middle.
SHELVES_C = {"top shelf": 1.9, "middle shelf": 3.3, "door": 5.2}

Warmth = float | tuple[float, float] | Mapping[str, float]


@dataclass(frozen=True, kw_only=True)
class Place:
    """One place with its temperature in degC while the household is awake and while it sleeps."""

    name: str
    day_c: float
    night_c: float

    @property
    def hottest_c(self) -> float:
        """Return the higher of the two temperatures."""
        return max(self.day_c, self.night_c)

    @property
    def text(self) -> str:
        """Return the place in words.

        >>> Place(name="kitchen", day_c=22, night_c=18.5).text
        'kitchen, 22 °C by day and 18.5 °C by night'
        """
        if self.day_c == self.night_c:
            return f"{self.name}, {self.day_c:g} °C"
        return f"{self.name}, {self.day_c:g} °C by day and {self.night_c:g} °C by night"


def read_places(places: Mapping[str, Warmth]) -> tuple[Place, ...]:
    """Return the places a baker named, or refuse: none at all, or one above 30 degC.

    Each is one temperature, a pair (day, night), or {"day": ..., "night": ...}. Our choice of limit: the
    published yeast curve halves between 28 and 32 degC (Gaenzle 1998).

    >>> [place.text for place in read_places({"kitchen": (22, 19), "warm box": 28})]
    ['kitchen, 22 °C by day and 19 °C by night', 'warm box, 28 °C']
    >>> read_places({"oven": 35})
    Traceback (most recent call last):
    ValueError: oven is 35 °C; a plan warms a jar to at most 30 °C. Let the place cool, or choose another.
    """
    if not places:
        message = "places is empty; a jar must stand somewhere. Name a place, as in {'kitchen': 22}."
        raise ValueError(message)
    return tuple(_place(str(name), warmth) for name, warmth in places.items())


def cold_shelf(name: str, temp_c: float) -> float:
    """Return a shelf's temperature in degC, or refuse one that is no cold shelf: -1 to 15.

    Our choice of limits. Below, a jar freezes, and what freezing takes is not computed: there is no published number.

    >>> cold_shelf("fridge_temp_c", 39)
    Traceback (most recent call last):
    ValueError: fridge_temp_c is 39; a cold shelf has -1 to 15 °C. If this was Fahrenheit, write 3.9 °C.
    """
    temp = float(kitchen_temperature(name, temp_c))
    if COLDEST_SHELF_C <= temp <= WARMEST_SHELF_C:
        return temp
    step = f"If this was Fahrenheit, write {(temp - 32) / 1.8:.1f} °C." if temp > 0 else "Frozen jars are not computed."
    message = f"{name} is {temp:g}; a cold shelf has {COLDEST_SHELF_C:g} to {WARMEST_SHELF_C:g} °C. {step}"
    raise ValueError(message)


def _place(name: str, warmth: Warmth) -> Place:
    if isinstance(warmth, Mapping):
        day, night = warmth["day"], warmth["night"]
    elif isinstance(warmth, tuple):
        day, night = warmth
    else:
        day = night = warmth
    place = Place(
        name=name,
        day_c=float(kitchen_temperature(f"{name} by day", day)),
        night_c=float(kitchen_temperature(f"{name} by night", night)),
    )
    refuse_hot_place(temp_c=place.hottest_c, name=name)
    return place
