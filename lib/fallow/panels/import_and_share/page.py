"""One page, four errands: a logger's file, a meter's file, an experiment handed on, an experiment taken in."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import ipywidgets

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.form import present
from fallow.panels.controls.page import side_by_side
from fallow.panels.import_and_share.log_block import LogBlock
from fallow.panels.import_and_share.zip_blocks import HandOn, TakeIn
from fallow.records.experiment import Experiment
from fallow.records.package import experiments_in
from fallow.records.share import Imported

LOGGER = "add a temperature logger's file"
METER = "add a pH meter's file"
HAND_ON = "hand an experiment on"
TAKE_IN = "take an experiment in"
NONE_YET = "none yet"


class ImportAndShare(ipywidgets.VBox):
    """The page over a folder of experiments."""

    def __init__(self, folder: str | Path, *, now: Callable[[], datetime] = present) -> None:
        self.folder = Path(folder)
        self.errand = Choice(label="What to do", options=[LOGGER, METER, HAND_ON, TAKE_IN])
        self.experiment = Choice(label="Experiment", options=experiments_in(self.folder) or [NONE_YET])
        self.trouble = Answer()
        self.logger, self.meter = LogBlock(ph=False, now=now), LogBlock(ph=True, now=now)
        self.hand_on, self.take_in = HandOn(), TakeIn(self.folder, came=self.welcome)
        self.readers: dict[str, LogBlock | HandOn] = {LOGGER: self.logger, METER: self.meter, HAND_ON: self.hand_on}
        self.blocks: dict[str, ipywidgets.VBox] = {**self.readers, TAKE_IN: self.take_in}
        self.errand.observe(self.turn, "value")
        self.experiment.observe(self.turn, "value")
        super().__init__([side_by_side([self.errand, self.experiment]), self.trouble, *self.blocks.values()])
        self.turn()

    def turn(self, _change: Any = None) -> None:
        """Show the errand that was chosen, for the experiment that was chosen."""
        errand = self.errand.value
        try:
            if errand != TAKE_IN:
                self.readers[errand].use(self.opened())
            self.trouble.say("")
            shown = errand
        except ValueError as error:
            self.trouble.refuse(error)
            shown = ""
        self.experiment.layout.display = "none" if errand == TAKE_IN else ""
        for name, block in self.blocks.items():
            block.layout.display = "" if name == shown else "none"

    def opened(self) -> Experiment:
        """Return the experiment that is chosen, or say what is wrong with it."""
        if self.experiment.value == NONE_YET:
            message = "There is no experiment yet; readings and a zip belong to one. Begin one, or take one in."
            raise ValueError(message)
        return Experiment.open(self.folder / self.experiment.value)

    def welcome(self, came: Imported) -> None:
        """Let an experiment that was taken in be chosen."""
        self.experiment.options = experiments_in(self.folder) or [NONE_YET]
        self.experiment.value = came.folder.name
