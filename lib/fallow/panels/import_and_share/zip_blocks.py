"""An experiment handed on as one zip, and one taken in."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ipywidgets

from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.download import Download
from fallow.panels.controls.field import TextField
from fallow.panels.controls.file import FilePick
from fallow.panels.controls.page import side_by_side
from fallow.records.experiment import Experiment
from fallow.records.paths import typed_path
from fallow.records.share import Imported, import_zip, spreadsheet_zip_bytes, zip_bytes

WHAT_GOES = (
    "The zip holds the tables, datapackage.json, the README, plans, notebooks, what was changed, and the versions used. "
    "Drafts stay here. Look through notes and place names first: whoever gets it reads them."
)
GUARD = "For a spreadsheet, a text that would run as a formula gets an apostrophe in front, in that copy only; numbers are untouched."
WHAT_COMES = (
    "The zip is checked whole before anything is written; an experiment that is here already is never written over. "
    "A notebook in it is somebody else's code: read it before you run it."
)
NO_ZIP = "Type the path of a zip, or choose one."


class HandOn(ipywidgets.VBox):
    """Two downloads of the experiment that is chosen."""

    def __init__(self) -> None:
        self.experiment: Experiment | None = None
        self.zip = Download(label="Save it as one zip", file_name="", mime="application/zip", content=self.packed)
        self.sheets = Download(
            label="Save its tables for a spreadsheet", file_name="", mime="application/zip", content=self.copied
        )
        self.answer, self.note = Answer(), Note()
        super().__init__([self.answer, side_by_side([self.zip, self.sheets]), self.note])

    def use(self, experiment: Experiment) -> None:
        """Hand on another experiment."""
        self.experiment = experiment
        self.zip.file_name = f"{experiment.folder.name}.zip"
        self.sheets.file_name = f"{experiment.folder.name}-for-a-spreadsheet.zip"
        found = experiment.check()
        if found:
            self.answer.refuse(ValueError(str(found[0])))
        else:
            self.answer.say(f"{experiment.title}: {len(experiment.jars)} jars, sound, licence {experiment.licence}.")
        self.note.tell(WHAT_GOES, GUARD)

    def packed(self) -> bytes:
        """Return the zip of the experiment."""
        return zip_bytes(self._one())

    def copied(self) -> bytes:
        """Return the guarded copies of its tables."""
        return spreadsheet_zip_bytes(self._one())

    def _one(self) -> Experiment:
        if self.experiment is None:
            message = "There is no experiment that can be read; there is nothing to hand on. Choose another one."
            raise ValueError(message)
        return self.experiment


class TakeIn(ipywidgets.VBox):
    """A zip from another baker, into the folder of experiments."""

    def __init__(self, folder: Path, *, came: Callable[[Imported], None]) -> None:
        self.folder, self._came = folder, came
        self.path = TextField(label="Path of the zip")
        self.pick = FilePick(label="Or choose the zip", accept=".zip")
        self.kept_as = TextField(label="Keep it as", unit="empty: its own name")
        self.go = Button(label="Take it in", act=self.take)
        self.answer, self.note = Answer(), Note()
        self.path.observe(self.typed, "text")
        super().__init__([side_by_side([self.path, self.pick, self.kept_as]), self.answer, self.go, self.note])
        self.answer.say(NO_ZIP)
        self.note.tell(WHAT_COMES)

    def typed(self, _change: Any = None) -> None:
        """Let a chosen zip go when a path is typed."""
        if self.path.text.strip():
            self.pick.forget()

    def take(self) -> None:
        """Take the zip in, or say in one sentence why not."""
        try:
            came = self._taken()
        except ValueError as error:
            self.note.tell(WHAT_COMES)
            self.answer.refuse(error)
            return
        self.note.tell(*came.remarks)
        self.answer.say(str(came))
        self._came(came)

    def _taken(self) -> Imported:
        path, name = self.path.text.strip(), self.kept_as.text.strip()
        if self.pick.file_name:
            return import_zip(self.pick.content, self.folder, name=name)
        if not path:
            raise ValueError(NO_ZIP)
        return import_zip(typed_path(path), self.folder, name=name)
