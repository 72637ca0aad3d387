"""A time typed as a baker says it, and shown back in full before anything is done with it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import traitlets

from fallow.panels.controls.field import TextField
from fallow.records.said_time import in_full, said_time

NOW = ("now", "just now")


class MomentField(TextField):
    """A time in a text box: 'now', '25 min ago', '07:40', 'yesterday 22:15', '3 Dec 18:00', '2026-12-03 18:00'.

    ``value`` is an aware datetime, or None while the box is empty or cannot be read; under the box stands the full
    time, with weekday and offset, or the reason why it is none.

    Parameters
    ----------
    label
        Shown above the box.
    time_zone
        IANA name of the kitchen's clock.
    now
        Gives the present instant, aware; asked each time the text changes.
    text
        What stands in the box at first.
    """

    value = traitlets.Instance(datetime, allow_none=True)

    def __init__(self, *, label: str, time_zone: str, now: Callable[[], datetime], text: str = "") -> None:
        self._time_zone, self._now = time_zone, now
        super().__init__(label=label)
        self.text = text

    def in_zone(self, time_zone: str) -> None:
        """Read what stands in the box again, on the clock of another zone."""
        self._time_zone = time_zone
        self._read(None)

    def renew(self) -> None:
        """Read 'now' again: it is when it is asked, not when it was typed. An hour that was meant otherwise stays."""
        if " ".join(self.text.split()).lower() in NOW:
            self.read()

    @traitlets.observe("text")
    def _read(self, _change: Any) -> None:
        self.read()

    def read(self) -> None:
        """Read the text as it stands, at the present instant: 'now' moves on."""
        read: datetime | None = None
        message = shown = ""
        try:
            if self.text.strip():
                read = said_time(text=self.text, now=self._now(), time_zone=self._time_zone)
                shown = in_full(at=read, time_zone=self._time_zone)
        except ValueError as error:
            message = str(error)
        with self.hold_sync():
            self.message, self.shown = message, shown
        self.value = read
