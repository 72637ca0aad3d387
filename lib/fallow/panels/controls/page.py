"""How a page is laid out: controls side by side, and the rest folded away until somebody asks for more."""

from __future__ import annotations

from collections.abc import Sequence

import ipywidgets

from fallow.panels.controls.button import Button

_SIDE_BY_SIDE = "repeat(auto-fit, minmax(230px, 1fr))"


def side_by_side(controls: Sequence[ipywidgets.Widget]) -> ipywidgets.GridBox:
    """Return controls in as many columns as the width allows."""
    layout = ipywidgets.Layout(grid_template_columns=_SIDE_BY_SIDE, grid_gap="4px 20px", max_width="860px")
    return ipywidgets.GridBox(list(controls), layout=layout)


class More(ipywidgets.VBox):
    """Controls that stay folded away until somebody asks for more; ``label`` is what the button says until then."""

    def __init__(self, controls: Sequence[ipywidgets.Widget], *, label: str = "More") -> None:
        self.label = label
        self.inside = side_by_side(controls)
        self.inside.layout.display = "none"
        self.switch = Button(label=label, act=self.toggle)
        super().__init__([self.switch, self.inside])

    def toggle(self) -> None:
        """Fold or unfold."""
        folded = self.inside.layout.display == "none"
        self.inside.layout.display = "grid" if folded else "none"
        self.switch.label = "Less" if folded else self.label
