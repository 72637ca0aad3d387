"""A logger's or a meter's file: looked at, every guess shown and open to correction, then added."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import ipywidgets

from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import TextField
from fallow.panels.controls.file import FilePick
from fallow.panels.controls.page import More, side_by_side
from fallow.panels.import_and_share import words
from fallow.records.experiment import Experiment
from fallow.records.log_columns import ELAPSED
from fallow.records.log_file import bytes_of
from fallow.records.log_preview import LogPreview
from fallow.records.loggers import Added, add_log, add_ph_log, feeds_of_readings, look_at_log, look_at_ph_log
from fallow.records.paths import typed_path
from fallow.records.said_time import said_time
from fallow.records.zone import keep_time_zone

GUESSED = "as guessed"
NO_JAR = "no jar yet"
NOT_ASKED = "UTC"
UNITS = {GUESSED: None, "°C": False, "°F": True}
ORDERS = {GUESSED: None, "day first": True, "month first": False}


class LogBlock(ipywidgets.VBox):
    """One file at a time; ``preview`` is what was seen of it, None while there is none."""

    def __init__(self, *, ph: bool, now: Callable[[], datetime]) -> None:
        self.ph, self.now = ph, now
        self.experiment: Experiment | None = None
        self.preview: LogPreview | None = None
        self._quiet, self.places = False, ""
        self.path = TextField(label="Path of the file")
        self.pick = FilePick(label="Or choose the file", accept=".csv,.txt,.tsv,.log")
        self.place = TextField(label="Place it was in")
        self.jar = Choice(label="Jar", options=[NO_JAR])
        self.zone = TextField(label="Time zone of its clock")
        self.column = Choice(label="Column of readings", options=[GUESSED])
        self.time = Choice(label="Column of times", options=[GUESSED])
        self.unit = Choice(label="Temperatures are in", options=list(UNITS))
        self.order = Choice(label="Dates have", options=list(ORDERS))
        self.began = TextField(label="The log began at")
        self.counted = Choice(label="Its times count", options=[GUESSED, *ELAPSED])
        self.more = More([self.time, self.unit, self.order, self.began, self.counted], label="Correct a guess")
        self.answer, self.note = Answer(), Note()
        self.add = Button(label="Add these readings", act=self.accept)
        self._listen()
        first = [self.path, self.pick, self.jar if ph else self.place, self.zone, self.column]
        super().__init__([side_by_side(first), self.more, self.answer, self.add, self.note])
        self.show_nothing()

    def _listen(self) -> None:
        self.path.observe(self.typed, "text")
        self.pick.observe(self.chosen, "chosen")
        self.jar.observe(self.look, "value")
        for control in (self.column, self.time, self.unit, self.order, self.counted):
            control.observe(self.look, "value")
        for field in (self.zone, self.began):
            field.observe(self.look, "text")

    def use(self, experiment: Experiment) -> None:
        """Read for another experiment: its jars, and the time zone it keeps."""
        self.experiment, self._quiet = experiment, True
        self.jar.options = list(experiment.jars["jar"]) or [NO_JAR]
        self.jar.value = self.jar.options[0]
        # UTC is what an experiment says while nobody was asked
        self.zone.text = "" if experiment.time_zone == NOT_ASKED else experiment.time_zone
        self._quiet = False
        self.places = "" if self.ph else words.places(experiment)
        self.look()

    def typed(self, _change: Any = None) -> None:
        """Read the file whose path was typed."""
        if self.path.text.strip():
            self.pick.forget()
        self.begin()

    def chosen(self, _change: Any = None) -> None:
        """Read the file that was chosen in the browser."""
        self._quiet, self.path.text = True, ""
        self._quiet = False
        self.begin()

    def begin(self) -> None:
        """Look at another file: what was said of the last one no longer holds."""
        if self._quiet:
            return
        self._quiet = True
        self.began.text = ""
        for choice in (self.column, self.time):
            choice.value, choice.options = GUESSED, [GUESSED]
        for choice in (self.unit, self.order, self.counted):
            choice.value = GUESSED
        self._quiet = False
        self.look()

    def look(self, _change: Any = None) -> None:
        """Show what the file holds, or why it cannot be read; nothing is saved."""
        if self._quiet:
            return
        self.preview = None
        try:
            source = self._source()
            if source is None:
                self.show_nothing()
                return
            seen = (look_at_ph_log if self.ph else look_at_log)(source[1], file=source[0], **self._said())
        except ValueError as error:
            self.note.tell(self.places, words.NO_SUMMER_TIME)
            self.answer.refuse(error)
            return
        self._offer(seen)
        try:
            self._tell(seen)
        except ValueError as error:
            self.answer.refuse(error)
            return
        self.preview = seen
        if seen.questions:
            self._unfold()
            self.answer.refuse(ValueError(f"{seen.file}: {' '.join(seen.questions)}"))
        else:
            self.answer.say(seen.sentence())

    def _source(self) -> tuple[str, bytes] | None:
        if self.pick.file_name:
            return self.pick.file_name, self.pick.content
        path = self.path.text.strip()
        return (typed_path(path).name, bytes_of(path)) if path else None

    def _said(self) -> dict[str, Any]:
        zone = self.zone.text.strip()
        began = self.began.text.strip()
        return {
            "time_zone": zone,
            "time_column": "" if self.time.value == GUESSED else self.time.value,
            "value_column": "" if self.column.value == GUESSED else self.column.value,
            "fahrenheit": UNITS[self.unit.value],
            "day_first": ORDERS[self.order.value],
            "elapsed_unit": "" if self.counted.value == GUESSED else self.counted.value,
            "starts_at": said_time(text=began, now=self.now(), time_zone=zone or "UTC") if began else None,
        }

    def _offer(self, seen: LogPreview) -> None:
        """Let the reader choose among the file's own columns."""
        self._quiet = True
        for choice in (self.column, self.time):
            kept = choice.value
            choice.options = [GUESSED, *seen.names]
            choice.value = kept
        self._quiet = False

    def _tell(self, seen: LogPreview) -> None:
        belongs: list[Any] = []
        if self.ph and self.experiment is not None and not seen.rows.empty:
            rows = feeds_of_readings(self.experiment, seen, jar=self.jar.value)
            belongs = words.by_feed(rows, self.jar.value)
        self.note.tell(self.places, *belongs, *words.whole(seen))

    def _unfold(self) -> None:
        if self.more.inside.layout.display == "none":
            self.more.toggle()

    def show_nothing(self) -> None:
        """Say what to do first."""
        self.note.tell(self.places, words.NO_SUMMER_TIME)
        self.answer.say(words.NO_FILE)

    def accept(self) -> None:
        """Add what the preview shows, as one change, and keep the time zone."""
        try:
            self.answer.say(" ".join([str(self._added()), *self._kept_zone()]))
        except ValueError as error:
            self.answer.refuse(error)

    def _added(self) -> Added:
        if self.preview is None or self.experiment is None:
            message = "There is no readable file yet, so there is nothing to add. Choose one first."
            raise ValueError(message)
        if self.ph:
            return add_ph_log(self.experiment, self.preview, jar=self.jar.value)
        return add_log(self.experiment, self.preview, place=self.place.text)

    def _kept_zone(self) -> list[str]:
        """Keep the time zone where none was asked for yet; a logger's own clock of one offset is no kitchen's."""
        zone = self.zone.text.strip()
        if self.experiment is None or not zone or zone.startswith("Etc/") or self.experiment.time_zone != NOT_ASKED:
            return []
        kept = keep_time_zone(self.experiment, time_zone=zone)
        return [f"{zone} is kept as the experiment's time zone."] if kept else []
