"""A temperature typed as text: degrees Celsius, or Fahrenheit where it says so, converted once and shown back."""

from __future__ import annotations

import re

from fallow.panels.controls.field import Kind, NumberField, number

_WITH_UNIT = re.compile(
    r"(?P<number>[-+\u2212\d.,\s]*?)\s*(?:°\s*)?(?P<unit>celsius|fahrenheit|[cf])\.?", re.IGNORECASE
)
_ONE_SIGN = str.maketrans({"\u2103": "°C", "\u2109": "°F", "\u00ba": "°"})


def celsius(text: str) -> tuple[float | None, str]:
    """Return typed degrees in Celsius, and how Fahrenheit was read; None for an empty text.

    T[°C] = (T[°F] - 32) / 1.8 (NIST SP 811, appendix B), to the tenth that a kitchen's thermometer shows. A bare number is
    Celsius.

    >>> celsius("72 °F"), celsius("72f"), celsius("22,5 °C"), celsius("4")
    ((22.2, 'read as 22.2 °C'), (22.2, 'read as 22.2 °C'), (22.5, ''), (4.0, ''))
    """
    cleaned = text.translate(_ONE_SIGN).strip()
    found = _WITH_UNIT.fullmatch(cleaned)
    degrees = number(found["number"] if found else cleaned.removesuffix("°"))
    if degrees is None and cleaned:
        message = f"{text.strip()!r} has no number; a temperature takes digits. Write it as in 22 or 72 °F."
        raise ValueError(message)
    if degrees is None or found is None or found["unit"].lower().startswith("c"):
        return degrees, ""
    read = round((degrees - 32) / 1.8, 1)
    return read, f"read as {read:g} °C"


def _suspect_fahrenheit(value: float, low: float, high: float) -> str:
    """Return what to do with a bare number that cannot be Celsius here, where it could be Fahrenheit."""
    return f"If this was Fahrenheit, write {value:g} °F." if value > high and low <= (value - 32) / 1.8 <= high else ""


TEMPERATURE = Kind(read=celsius, step=_suspect_fahrenheit, digits_only=False)


def temperature_field(*, label: str, low: float, high: float, text: str = "", empty: str = "") -> NumberField:
    """Return a box for a temperature in °C that takes 72 °F too; ``empty`` says below it what an empty box means."""
    hint = f"empty: {empty}" if empty else ""
    return NumberField(label=label, unit="°C", low=low, high=high, text=text, kind=TEMPERATURE, hint=hint)
