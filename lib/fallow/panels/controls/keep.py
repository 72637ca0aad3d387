"""Save a plan into an experiment, so that what happens can be held against it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import ipywidgets

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.page import More
from fallow.plans.against import honesty, plans_against_outcomes
from fallow.plans.plan import BringBack
from fallow.plans.put_away import PutAway
from fallow.plans.saved import save_plan
from fallow.records.experiment import Experiment
from fallow.records.package import experiments_in

NONE, NO_JAR = "no experiment yet", "choose an experiment first"


class Keep(ipywidgets.VBox):
    """Folded away: which experiment, which jar, and a button; the file's name or the reason stands below.

    ``plan`` gives the plan when the button is pressed. An experiment that is chosen says how far off its past plans were.
    """

    def __init__(
        self,
        *,
        folder: Path,
        plan: Callable[[], BringBack | PutAway],
        now: Callable[[], datetime],
    ) -> None:
        self.folder, self._plan, self._now = folder, plan, now
        self.experiment = Choice(label="Experiment", options=[NONE, *experiments_in(folder)])
        self.jar = Choice(label="Jar", options=[NO_JAR])
        self.said = Answer()
        self.experiment.observe(self._read, "value")
        button = Button(label="Save the plan", act=self.save)
        super().__init__([More([self.experiment, self.jar, button], label="Save into an experiment"), self.said])

    def _read(self, _change: Any) -> None:
        jars: list[str] = []
        try:
            said = ""
            if self.experiment.value != NONE:
                opened = self._opened()
                jars = opened.jars["jar"].astype(str).tolist()
                said = honesty(plans_against_outcomes(opened))
            self.said.say(said)
        except ValueError as error:
            self.said.refuse(error)
        self.jar.options = jars or [NO_JAR]
        self.jar.value = self.jar.options[0]

    def save(self) -> None:
        """Write the plan into the experiment's folder, or say why not."""
        try:
            if self.experiment.value == NONE:
                message = "No experiment is chosen; a plan is kept in one. Choose it and its jar, then press again."
                raise ValueError(message)
            path = save_plan(self._opened(), self._plan(), jar=self.jar.value, made_at=self._now())
        except ValueError as error:
            self.said.refuse(error)
        else:
            self.said.say(f"Saved as {path.parent.name}/{path.name} in {self.experiment.value}.")

    def _opened(self) -> Experiment:
        return Experiment.open(self.folder / self.experiment.value)
