"""A form that is made when somebody first unfolds it, for a page of a hundred jars must not make a hundred of each."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import ipywidgets

from fallow.panels.controls.button import Button
from fallow.panels.controls.field import TextField

_ROW = {"flex_flow": "row wrap"}


class FoldedForm(ipywidgets.VBox):
    """The place of a form; ``switch`` stands elsewhere, unfolds it, and puts the keyboard into its first box."""

    def __init__(self, *, title: str, form: Callable[[], ipywidgets.VBox]) -> None:
        self.title, self._form = title, form
        self.inside: ipywidgets.VBox | None = None
        self.switch = Button(label=title, act=self.toggle)
        super().__init__([])

    @property
    def unfolded(self) -> bool:
        """Whether the form is to be seen."""
        return bool(self.children)

    def toggle(self) -> None:
        """Fold or unfold; what was typed stays."""
        if self.unfolded:
            self.children, self.switch.label = [], self.title
            return
        fields = [child for child in self.unfold().children if isinstance(child, TextField)]
        if fields:
            fields[0].wants_keyboard = True

    def unfold(self) -> ipywidgets.VBox:
        """Show the form and return it."""
        if self.inside is None:
            self.inside = self._form()
        self.children, self.switch.label = [self.inside], f"Close: {self.title.lower()}"
        return self.inside


def in_a_row(buttons: Sequence[Button]) -> ipywidgets.Box:
    """Return buttons side by side, on as many lines as they need."""
    return ipywidgets.HBox(list(buttons), layout=ipywidgets.Layout(**_ROW))
