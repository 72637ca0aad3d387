"""What an argument must be, said in one sentence: the value seen, the rule, the next step."""

from __future__ import annotations

import reprlib
from typing import Any

import numpy as np
import numpy.typing as npt

Number = float | npt.ArrayLike
Array = npt.NDArray[np.float64]
# A float when every argument was a plain number, else an array; Any, because mypy cannot follow broadcasting.
FloatOrArray = Any

HOTTEST_KITCHEN_C = 60.0
COLDEST_KITCHEN_C = -30.0


def finite(name: str, value: Number) -> Array:
    """Return ``value`` as an array of floats, or refuse the first entry that is not a finite number.

    Our choice. Shape is kept; a plain float becomes a 0-d array.

    >>> float(finite("hours", 2))
    2.0
    >>> finite("hours", float("nan"))
    Traceback (most recent call last):
    ValueError: hours is nan; it must be a finite number. Leave a missing value out instead.
    """
    try:
        numbers = np.asarray(value, dtype=float)
    except (TypeError, ValueError) as error:
        message = f"{name} is {reprlib.repr(value)}; it must be a number. Write digits alone, with a decimal point."
        raise ValueError(message) from error
    _refuse(name, numbers, ~np.isfinite(numbers), "it must be a finite number. Leave a missing value out instead.")
    return numbers


def positive(name: str, value: Number) -> Array:
    """Return ``value`` as an array of floats above zero, or refuse.

    >>> positive("water_g", 0)
    Traceback (most recent call last):
    ValueError: water_g is 0; it must be above zero. Check the number and its unit.
    """
    numbers = finite(name, value)
    _refuse(name, numbers, numbers <= 0, "it must be above zero. Check the number and its unit.")
    return numbers


def not_negative(name: str, value: Number) -> Array:
    """Return ``value`` as an array of floats of zero or more, or refuse.

    >>> not_negative("days", -2)
    Traceback (most recent call last):
    ValueError: days is -2; it must be zero or more. Check the number and its sign.
    """
    numbers = finite(name, value)
    _refuse(name, numbers, numbers < 0, "it must be zero or more. Check the number and its sign.")
    return numbers


def kitchen_temperature(name: str, temp_c: Number) -> Array:
    """Return temperatures in degC that a kitchen can have (-30 to 60), or refuse; above 60 Fahrenheit is suspected.

    >>> kitchen_temperature("place_temp_c", 77.0)
    Traceback (most recent call last):
    ValueError: place_temp_c is 77; a kitchen has -30 to 60 °C. If this was Fahrenheit, write 25.0 °C.
    """
    numbers = finite(name, temp_c)
    low, high = COLDEST_KITCHEN_C, HOTTEST_KITCHEN_C
    wrong = (numbers < low) | (numbers > high)
    if np.any(wrong):
        seen = float(numbers[wrong].flat[0])
        step = f"If this was Fahrenheit, write {(seen - 32) / 1.8:.1f} °C." if seen > high else "Check the thermometer."
        message = f"{name} is {seen:g}; a kitchen has {low:g} to {high:g} °C. {step}"
        raise ValueError(message)
    return numbers


def plain(numbers: npt.NDArray[Any]) -> FloatOrArray:
    """Return a 0-d array as the plain Python number it holds, and any other array as it is.

    >>> plain(np.asarray(0.5)), plain(np.asarray([0.5]))
    (0.5, array([0.5]))
    """
    return numbers.item() if numbers.ndim == 0 else numbers


def _refuse(name: str, numbers: Array, wrong: npt.NDArray[np.bool_], rule: str) -> None:
    if np.any(wrong):
        message = f"{name} is {float(numbers[wrong].flat[0]):g}; {rule}"
        raise ValueError(message)
