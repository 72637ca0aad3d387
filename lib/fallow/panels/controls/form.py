"""What every page's questions share: reading a box or refusing it, moving controls without asking anew, the hour now."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any, Protocol

SCALES_G = {"1 g": 1.0, "0.1 g": 0.1, "2 g": 2.0, "5 g": 5.0}


class Asking(Protocol):
    """A form that asks anew whenever a control moves, unless it is ``quiet``."""

    quiet: bool


@contextmanager
def quietly(form: Asking) -> Iterator[None]:
    """Move several controls without an answer for each of them."""
    before, form.quiet = form.quiet, True
    try:
        yield
    finally:
        form.quiet = before


def needed(control: Any, *, by: str = "a plan") -> Any:
    """Return what was typed, or refuse what is empty or cannot be read, by the name of its box."""
    if control.value is not None:
        return control.value
    message = control.message or f"{control.label} is empty; {by} needs it. Type it in."
    raise ValueError(message)


def clock_text(hours: float) -> str:
    """Return hours since midnight as a clock shows them.

    >>> clock_text(22.5), clock_text(24.0)
    ('22:30', '24:00')
    """
    whole, minutes = divmod(round(hours * 60), 60)
    return f"{whole:02d}:{minutes:02d}"


def present() -> datetime:
    """Return the present instant."""
    return datetime.now(UTC)
