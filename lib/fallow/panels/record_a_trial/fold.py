"""A form that is made when somebody first unfolds it, for a page of a hundred jars must not make a hundred of each."""

from __future__ import annotations

from collections.abc import Callable

import ipywidgets

from fallow.panels.controls.button import Button


class FoldedForm(ipywidgets.VBox):
    """A button and, once pressed, the form it stands for; ``form`` makes it."""

    def __init__(self, *, title: str, form: Callable[[], ipywidgets.Widget]) -> None:
        self.title, self._form = title, form
        self.inside: ipywidgets.Widget | None = None
        self.switch = Button(label=title, act=self.toggle)
        super().__init__([self.switch])

    @property
    def unfolded(self) -> bool:
        """Whether the form is to be seen."""
        return len(self.children) > 1

    def toggle(self) -> None:
        """Fold or unfold; what was typed stays."""
        if self.unfolded:
            self.children, self.switch.label = [self.switch], self.title
            return
        self.unfold()

    def unfold(self) -> ipywidgets.Widget:
        """Show the form and return it."""
        if self.inside is None:
            self.inside = self._form()
        self.children, self.switch.label = [self.switch, self.inside], f"Close: {self.title.lower()}"
        return self.inside
