"""Write it down: the form that fits where the jar stands, and what was saved said back."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import ipywidgets
import pandas as pd

from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.one_jar import log_words
from fallow.panels.one_jar.entries import ORDINARY, EndEntry, FeedEntry, HoldEntry, LookEntry, OutEntry, shown
from fallow.panels.one_jar.form import Form
from fallow.records import one_jar, one_jar_log
from fallow.records.experiment import Experiment
from fallow.records.one_jar import Stage, Standing, standing
from fallow.records.pasted_times import AHEAD


class Logbook(ipywidgets.VBox):
    """The forms over one record; ``changed`` is called after every save."""

    def __init__(self, *, folder: Path, name: str, form: Form, changed: Callable[[], None]) -> None:
        self.folder, self.name, self._form, self._changed = folder, name, form, changed
        self.heading, self.said, self.looks = Note(), Answer(), Note()
        self.experiment = self._found()
        self.feed = FeedEntry(
            moment=form.moment, save=self.save_feed, label="Save this feed", kitchen_c=form.kitchen.text
        )
        self.hold = HoldEntry(moment=form.moment, save=self.save_hold)
        self.out = OutEntry(moment=form.moment, save=self.save_out)
        self.look = LookEntry(moment=form.moment, save=self.save_look)
        self.end = EndEntry(save=self.save_end)
        self.undo = Button(label="", act=self.take_back)
        self.entries = [self.look, self.looks, self.hold, self.out, self.feed, self.end]
        super().__init__([self.heading, self.said, *self.entries, self.undo])
        self.show()

    @property
    def standing(self) -> Standing | None:
        """How things stand; None before anything was written down."""
        return None if self.experiment is None else standing(self.experiment)

    def show(self) -> None:
        """Show the forms that fit where the jar stands."""
        now = self.standing
        stage = Stage.AT_HOME if now is None else now.stage
        when = {"today": self._today, "zone": self._form.zone.value}
        self.heading.tell(*log_words.heading(now, **when))
        shown(self.feed, if_=stage in (Stage.AT_HOME, Stage.BACK))
        shown(self.feed.kind, if_=stage is Stage.AT_HOME)
        shown(self.hold, if_=stage is Stage.FED)
        shown(self.out, if_=stage is Stage.COLD)
        shown(self.end, if_=stage is not Stage.AT_HOME)
        for part in (self.look, self.looks):
            shown(part, if_=now is not None and now.feed is not None and stage is not Stage.COLD)
        last = "" if self.experiment is None else one_jar_log.last_entry(self.experiment)
        self.undo.label = f"Take back: {last}"
        shown(self.undo, if_=bool(last))
        self.looks.tell(log_words.looks_table(now, **when))

    def save_feed(self) -> None:
        """Save the feed, with the height right after it where it was measured."""
        self._do(self._feed)

    def _feed(self) -> str:
        given = self.feed.given()
        self._not_yet(given.at)
        experiment = self._begun()
        now = standing(experiment)
        if now.stage is Stage.BACK:
            one_jar_log.log_recovery_feed(experiment, given)
        elif self.feed.kind.value == ORDINARY:
            one_jar_log.log_ordinary_feed(experiment, given)
        else:
            one_jar_log.log_last_feed(experiment, given)
        self.feed.clear()
        return f"Saved: fed {self._hour(given.at)}."

    def save_hold(self) -> None:
        """Save when and where it went into the cold."""
        self._do(self._hold)

    def _hold(self) -> str:
        at, place, temp_c = self.hold.held()
        self._not_yet(at)
        one_jar_log.log_put_away(self._begun(), at=at, place=place, temp_c=temp_c)
        return f"Saved: in the fridge since {self._hour(at)}, {place}, {temp_c:g} °C. Lid loose."

    def save_out(self) -> None:
        """Save when it came out."""
        self._do(self._out)

    def _out(self) -> str:
        at = self.out.out_at()
        self._not_yet(at)
        one_jar_log.log_out(self._begun(), at=at)
        return f"Saved: out of the fridge {self._hour(at)}."

    def save_look(self) -> None:
        """Save a look at the newest feed."""
        self._do(self._look)

    def _look(self) -> str:
        at, height, top = self.look.seen()
        self._not_yet(at)
        columns = {"dome": top} if top else {}
        one_jar_log.log_look(self._begun(), at=at, height=height, **columns)
        self.look.clear()
        seen = ", ".join(part for part in ("" if height is None else f"{height:g} mm", top) if part)
        return f"Saved: {seen} at {self._hour(at)}."

    def save_end(self) -> None:
        """Close the holiday."""
        self._do(self._end)

    def _end(self) -> str:
        ending, note = self.end.ended()
        one_jar_log.log_ending(self._begun(), ending=ending, note=note)
        return "Saved: this holiday is closed. The next one begins with its last feed."

    def take_back(self) -> None:
        """Take the last entry back."""
        self._do(self._back)

    def _back(self) -> str:
        experiment = self._begun()
        last = one_jar_log.last_entry(experiment)
        experiment.undo()
        return f"Taken back: {last}."

    def _found(self) -> Experiment | None:
        try:
            return one_jar.found(self.folder, name=self.name)
        except ValueError as error:
            # Saving is refused with the same words until the record is mended.
            self.said.refuse(error)
            return None

    def _begun(self) -> Experiment:
        if self.experiment is None:
            self.experiment = one_jar.begun(self.folder, time_zone=self._form.zone.value, name=self.name)
        return self.experiment

    def _do(self, act: Callable[[], str]) -> None:
        try:
            done = act()
        except ValueError as error:
            self.said.refuse(error)
            return
        self.said.say(done)
        self.show()
        self._changed()

    def _not_yet(self, at: datetime) -> None:
        """Refuse an hour that is still to come."""
        if at > self._form.now() + AHEAD:
            message = f"{self._hour(at)} is still to come; the record holds what was done. Write yesterday before the hour, or correct it."
            raise ValueError(message)

    @property
    def _today(self) -> pd.Timestamp:
        return pd.Timestamp(self._form.now())

    def _hour(self, at: datetime) -> str:
        return log_words.hour(pd.Timestamp(at), today=self._today, zone=self._form.zone.value)
