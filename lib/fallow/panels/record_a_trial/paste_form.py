"""Rows copied from a spreadsheet: shown as they are understood, every problem named, saved together or not at all."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

import ipywidgets
import pandas as pd

from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.record_a_trial.desk import Desk
from fallow.panels.record_a_trial.kept import cleared
from fallow.panels.record_a_trial.text_area import TextArea
from fallow.panels.record_a_trial.words import plain
from fallow.records.pasted import Pasted, pasted_feeds, pasted_readings
from fallow.records.said_time import in_full

READERS = {"looks": pasted_readings, "feeds": pasted_feeds}
HOW = {
    "looks": "Columns: jar, feed, at, height; with names above them also dome, bubbles, smell, ph, temp_c, note. "
    "Feed may be left empty.",
    "feeds": "A first row of names: jar, at, seed_g, water_g, each flour as in bread_g; also kind, place, place_temp_c, note.",
}
MOST_SHOWN = 20


class PasteForm(ipywidgets.VBox):
    """A box to paste into, and a preview before anything is saved."""

    FORM: ClassVar[str] = "paste"

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self.what = Choice(label="The rows are", options=list(READERS))
        self.box = TextArea(label="Paste rows here")
        self.preview, self.answer = Note(), Answer()
        desk.drafts.attach(self.what, jar="", form=self.FORM, name="what")
        desk.drafts.attach(self.box, jar="", form=self.FORM, name="rows")
        self.what.observe(self.look, "value")
        self.box.observe(self.look, "text")
        self.look()
        save = Button(label="Save these rows", act=self.save)
        super().__init__([self.what, self.box, self.answer, save, self.preview])

    def look(self, _change: Any = None) -> None:
        """Show what the pasted text holds, and every problem; nothing is saved."""
        if not self.box.text.strip():
            self.answer.say("")
            self.preview.tell(HOW[self.what.value])
            return
        try:
            found = self.read()
        except ValueError as error:
            self.answer.refuse(error)
            self.preview.tell(HOW[self.what.value])
            return
        if found.problems:
            count = len(found.problems)
            self.answer.refuse(
                ValueError(f"{count} problem{'s' * (count > 1)}; nothing can be saved until none is left.")
            )
        else:
            self.answer.say(f"{self._counted(found)}, no problem. Nothing is saved yet.")
        self.preview.tell(*_problems(found), _table(found, self._desk.time_zone), HOW[self.what.value])

    def read(self) -> Pasted:
        """Read the box as it stands."""
        return READERS[self.what.value](self.box.text, experiment=self._desk.experiment, now=self._desk.now())

    def save(self) -> None:
        """Save all rows as one change."""
        if self._desk.do(self._write, answer=self.answer, kept=("", self.FORM)):
            said = self.answer.text
            cleared([self.box])
            self.answer.say(said)

    def _write(self) -> str:
        found = self.read()
        found.save(self._desk.experiment)
        return f"Saved: {self._counted(found)} as one change."

    def _counted(self, found: Pasted) -> str:
        return f"{found.count} {self.what.value if found.count != 1 else self.what.value.removesuffix('s')}"


def _problems(found: Pasted) -> list[str]:
    said = [str(problem).replace("pasted text, row", "Row", 1) for problem in found.problems[:MOST_SHOWN]]
    left = len(found.problems) - len(said)
    return [*said, *([f"and {left} more"] if left else [])]


def _table(found: Pasted, time_zone: str) -> pd.DataFrame | str:
    """Return the first rows as they are understood, columns nobody filled left out."""
    rows = found.rows.get("readings", found.rows.get("feeds", []))
    if not rows:
        return ""
    flours: dict[tuple[str, str], list[str]] = {}
    for row in found.rows.get("feed_flours", []):
        flours.setdefault((row["jar"], row["feed"]), []).append(f"{row['grams']} {row['flour']}")
    shown = [
        {**{name: plain(cell, longest=30) if cell else "" for name, cell in row.items()}, "flours": _said(flours, row)}
        | ({"at": in_full(at=datetime.fromisoformat(row["at"]), time_zone=time_zone)} if row["at"] else {})
        for row in rows[:MOST_SHOWN]
    ]
    frame = pd.DataFrame(shown)
    return frame.loc[:, (frame != "").any()]


def _said(flours: dict[tuple[str, str], list[str]], row: dict[str, str]) -> str:
    return ", ".join(flours.get((row["jar"], row["feed"]), []))
