"""A new experiment: its title, what it asks, the kitchen's time zone; asked once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import ClassVar

import ipywidgets

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.controls.field import TextField
from fallow.panels.record_a_trial.kept import Drafts
from fallow.records.experiment import Experiment
from fallow.records.package import slug


class NewExperiment(ipywidgets.VBox):
    """Makes a folder under ``folder`` and tells ``made`` its name; what was typed is kept in ``folder`` until then."""

    FORM: ClassVar[str] = "new experiment"

    def __init__(self, folder: Path, *, time_zone: str, drafts: Drafts, made: Callable[[str], None]) -> None:
        self._folder, self._drafts, self._made = folder, drafts, made
        self.title = TextField(label="Title")
        self.question = TextField(label="What it asks")
        self.zone = TextField(label="Time zone of the kitchen (as in Europe/Berlin)", text=time_zone)
        self.answer = Answer()
        for name, field in (("title", self.title), ("question", self.question), ("zone", self.zone)):
            drafts.attach(field, jar="", form=self.FORM, name=name)
            field.observe(lambda _change: self.save(), "enters")
        super().__init__([self.title, self.question, self.zone, Button(label="Begin it", act=self.save), self.answer])

    def offer_zone(self, time_zone: str) -> None:
        """Put in the browser's time zone while nothing else was typed."""
        if not self.zone.text:
            self.zone.text = time_zone

    def save(self) -> None:
        """Begin the experiment."""
        try:
            path = self._free(slug(self.title.text))
            Experiment.create(
                path, title=self.title.text, question=self.question.text, time_zone=self.zone.text.strip()
            )
        except ValueError as error:
            self.answer.refuse(error)
            return
        self._drafts.release(jar="", form=self.FORM)
        self.answer.say(f"Begun: {path.name}.")
        self._made(path.name)

    def _free(self, name: str) -> Path:
        """Return a folder that is not there yet."""
        short = name[:60].strip("-")
        names = (short, *(f"{short}-{number}" for number in range(2, 1000)))
        return next(path for path in (self._folder / one for one in names) if not path.exists())
