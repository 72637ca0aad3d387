"""A look at the jar: three numbers, and the plan is made again from them."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets

from fallow.panels.bring_back.form import Form, needed
from fallow.panels.bring_back.looks import Look
from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.controls.field import NumberField
from fallow.panels.controls.page import side_by_side

ASK = (
    "You looked at the jar? Type its height, from the glass bottom to the middle of the starter, "
    "and the plan is made again from then."
)


class LookBox(ipywidgets.VBox):
    """The boxes and buttons of a look; ``again`` is called with it, ``forget`` when the looks are to be let go."""

    def __init__(self, *, form: Form, again: Callable[[Look], None], forget: Callable[[], None]) -> None:
        self.form, self._again = form, again
        self.at = form.moment("You looked", "now")
        self.start = NumberField(label="Height right after the feed", unit="mm", low=1, high=2000)
        self.height = NumberField(label="Height at the look", unit="mm", low=1, high=2000)
        self.peak = NumberField(label="Height at its usual peak", unit="mm, empty: not known", low=1, high=2000)
        self.take = Button(label="Plan again from this look", act=self.look)
        self.back = Button(label="Forget the looks", act=forget)
        self.said = Answer()
        form.zone.observe(lambda change: self.at.in_zone(change["new"]), "value")
        boxes = side_by_side([self.at, self.start, self.height, self.peak])
        super().__init__([boxes, ipywidgets.HBox([self.take, self.back]), self.said])

    def look(self) -> None:
        """Plan again from what the boxes say, or say why not."""
        try:
            self.at.in_zone(self.form.zone.value)
            self._again(
                Look(
                    at=needed(self.at),
                    height=needed(self.height),
                    start=needed(self.start),
                    peak=needed(self.peak) if self.peak.text.strip() else None,
                )
            )
        except ValueError as error:
            self.said.refuse(error)
        else:
            self.said.say("")
