"""A look at the jar: how its top looks and how high it stands, and the plan is made again from then."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import ipywidgets

from fallow.panels.bring_back.form import Form
from fallow.panels.bring_back.looks import Look
from fallow.panels.controls.answer import Answer, Note
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import NumberField
from fallow.panels.controls.form import needed
from fallow.panels.controls.page import side_by_side
from fallow.plans.look import Top

ASK = (
    "You looked at the jar? Say how its top looks and type its height, from the glass bottom to the middle of the starter, "
    "and the plan is made again from then. A flat or fallen jar is past its peak and needs no height."
)
BY_PLAN = "by the hours"
TOPS = {"not said": Top.NOT_SAID, "domed": Top.DOMED, "flat": Top.FLAT, "fallen": Top.FALLEN}


class LookBox(ipywidgets.VBox):
    """The boxes and buttons of a look; ``again`` is called with it and says what it told.

    ``turn`` goes to and fro between the plan from the look and one from the cold jar.
    """

    def __init__(self, *, form: Form, again: Callable[[Look], str], turn: Callable[[], None]) -> None:
        self.form, self._again = form, again
        self.at = form.moment("You looked", "now")
        self.fed = form.moment("Fed at, empty: as planned", "")
        self.stands = Choice(label="Feed that stands", options=[BY_PLAN])
        self.start = NumberField(label="Height right after the feed", unit="mm", low=1, high=2000)
        self.top = Choice(label="Top", options=list(TOPS))
        self.height = NumberField(label="Height at the look", unit="mm", low=1, high=2000)
        self.peak = NumberField(label="Height at its usual peak", unit="mm", low=1, high=2000, hint="empty: not known")
        self.take = Button(label="Plan again from this look", act=self.look)
        self.back = Button(label="", act=turn)
        self.said = Answer()
        for box in (self.at, self.fed):
            form.zone.observe(lambda change, box=box: box.in_zone(change["new"]), "value")
        boxes = side_by_side([self.at, self.top, self.height, self.start, self.peak, self.stands, self.fed])
        ask = Note()
        ask.tell(ASK)
        super().__init__([ask, boxes, ipywidgets.HBox([self.take, self.back]), self.said])

    def look(self) -> None:
        """Plan again from what the boxes say, or say why not."""
        try:
            self.at.in_zone(self.form.zone.value)
            told = self._again(self.seen())
        except ValueError as error:
            self.said.refuse(error)
        else:
            self.said.say(told)

    def seen(self) -> Look:
        """Return the look, or refuse with the first box that is empty or cannot be read."""
        top = TOPS[self.top.value]
        return Look(
            at=needed(self.at),
            height=_typed(self.height, always=not top.past),
            start=_typed(self.start, always=not top.past),
            peak=_typed(self.peak),
            feed=None if self.stands.value == BY_PLAN else int(self.stands.value.removeprefix("feed ")),
            fed=_typed(self.fed),
            top=top,
        )

    def name_feeds(self, count: int) -> None:
        """Offer the feeds of the plans so far to choose from; nothing to choose where there is one."""
        names, chosen = [BY_PLAN, *(f"feed {n}" for n in range(1, count + 1))], self.stands.value
        with self.stands.hold_sync():
            self.stands.options = names
            self.stands.value = chosen if chosen in names else BY_PLAN
        self.stands.layout.display = None if count > 1 else "none"

    def offer(self, label: str) -> None:
        """Name the way to the other plan, or hide the button where there is none."""
        self.back.label = label
        self.back.layout.display = None if label else "none"


def _typed(box: Any, *, always: bool = False) -> Any:
    """Return what stands in a box; None where it is empty and need not be filled."""
    return needed(box, by="a look") if always or box.text.strip() else None
