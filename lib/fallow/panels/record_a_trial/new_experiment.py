"""A new experiment: its title, what it asks, the kitchen's time zone; asked once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, ClassVar

import ipywidgets

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.controls.field import TextField
from fallow.panels.controls.zone import ZoneField
from fallow.panels.record_a_trial.kept import Drafts
from fallow.records.experiment import Experiment
from fallow.records.package import slug


class NewExperiment(ipywidgets.VBox):
    """Makes a folder under ``folder`` and tells ``made`` its name; what was typed is kept in ``folder`` until then."""

    FORM: ClassVar[str] = "new experiment"

    def __init__(self, folder: Path, *, drafts: Drafts, made: Callable[[str], None]) -> None:
        self._folder, self._drafts, self._made = folder, drafts, made
        self.title = TextField(label="Title")
        self.question = TextField(label="What it asks")
        self.zone = ZoneField(label="Time zone of the kitchen (as in Europe/Berlin)")
        self.zone.shown = "By this clock every hour of the trial is read and shown. Correct it if yours is another."
        self.answer = Answer()
        self.fields: list[TextField] = [self.title, self.question, self.zone]
        for name, field in zip(("title", "question", "zone"), self.fields, strict=True):
            drafts.attach(field, jar="", form=self.FORM, name=name)
            field.observe(self._entered, "enters")
        super().__init__([*self.fields, Button(label="Begin it", act=self.save), self.answer])

    def _entered(self, change: Any) -> None:
        """Go on to the next box; begin after the last one when nothing is left to fill in, for a zone is kept for good."""
        if change.owner is not self.zone:
            self.fields[self.fields.index(change.owner) + 1].wants_keyboard = True
            return
        empty = [field for field in self.fields if not field.text.strip()]
        if empty:
            empty[0].wants_keyboard = True
        else:
            self.save()

    def save(self) -> None:
        """Begin the experiment."""
        try:
            self._checked()
            path = self._free(slug(self.title.text))
            Experiment.create(path, title=self.title.text, question=self.question.text, time_zone=self.zone.value)
        except ValueError as error:
            self.answer.refuse(error)
            return
        self._drafts.release(jar="", form=self.FORM)
        self.answer.say(f"Begun: {path.name}.")
        self._made(path.name)

    def _checked(self) -> None:
        """Refuse the first box that is empty, and a zone that is none."""
        for field in self.fields:
            if not field.text.strip():
                message = f"{field.label} is empty; an experiment begins with all three. Fill it in."
                raise ValueError(message)
        if self.zone.message:
            raise ValueError(self.zone.message)

    def _free(self, name: str) -> Path:
        """Return a folder that is not there yet."""
        short = name[:60].strip("-")
        names = (short, *(f"{short}-{number}" for number in range(2, 1000)))
        return next(path for path in (self._folder / one for one in names) if not path.exists())
