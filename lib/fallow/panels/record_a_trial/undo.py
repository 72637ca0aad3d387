"""The last change of the record, named before it is taken back."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

import ipywidgets

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.record_a_trial.desk import Desk
from fallow.panels.record_a_trial.words import clock, plain
from fallow.records.mending import last_change

_THINGS = {
    "readings": "look", "feeds": "feed", "feed_flours": "flour", "jars": "jar row", "cultures": "culture row",
    "temperatures": "temperature", "plan": "plan",
}  # fmt: skip
_DID = {"add": "", "withdraw": "withdrawing ", "restore": "restoring ", "correct": "change of "}


class Undo(ipywidgets.VBox):
    """A button that says what it will take back; a change that came from another page meanwhile is named first."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._change: int | None = None
        self.button = Button(label="", act=self.press)
        self.answer = Answer()
        super().__init__([self.button, self.answer])
        self.look()

    def look(self) -> None:
        """Say on the button what would be taken back."""
        try:
            last = last_change(self._desk.experiment.folder)
        except ValueError as error:
            self.answer.refuse(error)
            last = None
        self._change = None if last is None else int(last["change"])
        self.button.label = "Nothing to undo" if last is None else f"Undo: {self._said(last)}"

    def press(self) -> None:
        """Take the named change back."""
        before, said = self._change, self.button.label.removeprefix("Undo: ")
        self.look()
        if self._change != before:
            said = self.button.label.removeprefix("Undo: ")
            message = (
                f"the record was changed from elsewhere: the last change is now {said}. Press again to take it back."
            )
            self.answer.refuse(ValueError(message))
            return
        self._desk.do(self._take_back(said), answer=self.answer)

    def _take_back(self, said: str) -> Callable[[], str]:
        def act() -> str:
            self._desk.experiment.undo()
            return f"Taken back: {said}."

        return act

    def _said(self, change: Mapping[str, Any]) -> str:
        rows = [row for row in change["rows"] if row["table"] != "feed_flours"] or change["rows"]
        first = rows[0]
        key, cells = first["key"], first["after"] or first["before"] or {}
        thing = _THINGS.get(first["table"], first["table"]) + (f" {key['feed']}" if first["table"] == "feeds" else "")
        of = plain(key.get("jar") or key.get("culture") or "", longest=24)
        height = f", {plain(cells['height'])}" if "height" in cells else ""
        more = f" and {len(rows) - 1} more" * (len(rows) > 1)
        return f"{_DID.get(change['did'], '')}{thing} of {of}{height}{self._when(key)}{more}"

    def _when(self, key: Mapping[str, str]) -> str:
        if "at" not in key:
            return ""
        at = datetime.fromisoformat(key["at"])
        return f", {clock(at, now=self._desk.now(), time_zone=self._desk.time_zone)}"
