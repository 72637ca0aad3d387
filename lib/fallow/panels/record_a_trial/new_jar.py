"""A new jar, its culture with it when that is new too."""

from __future__ import annotations

from typing import ClassVar

import ipywidgets

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import TextField
from fallow.panels.record_a_trial import entries
from fallow.panels.record_a_trial.desk import Desk
from fallow.panels.record_a_trial.kept import cleared


class NewJar(ipywidgets.VBox):
    """Name, culture, and what is to be done with it."""

    FORM: ClassVar[str] = "new jar"

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        cultures = list(desk.experiment.cultures["culture"])
        self.jar = TextField(label="Name of the jar, as on its label")
        self.culture = TextField(label="Culture in it", text=str(cultures[-1]) if cultures else "")
        self.treatment = TextField(label="What is to be done with it")
        self.unit = Choice(label="Heights in", options=["mm", "ml", "px"])
        self.answer = Answer()
        for name, control in self.controls.items():
            desk.drafts.attach(control, jar="", form=self.FORM, name=name)
        for field in (self.jar, self.culture, self.treatment):
            field.observe(lambda _change: self.save(), "enters")
        super().__init__([*self.controls.values(), Button(label="Save jar", act=self.save), self.answer])

    @property
    def controls(self) -> dict[str, TextField | Choice]:
        """The controls by the column they fill."""
        return {"jar": self.jar, "culture": self.culture, "treatment": self.treatment, "height_unit": self.unit}

    def save(self) -> None:
        """Save the jar; its culture and treatment stay for the next one."""
        if self._desk.do(self._write, answer=self.answer, kept=("", self.FORM)):
            cleared([self.jar])

    def _write(self) -> str:
        return entries.save_jar(
            self._desk.experiment,
            jar=self.jar.text,
            culture=self.culture.text,
            treatment=self.treatment.text.strip(),
            height_unit=self.unit.value,
        )
