"""A button that calls one plain method when it is pressed."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import anywidget
import traitlets

from fallow.panels.controls.style import CSS

_ESM = """
function render({ model, el }) {
  const button = document.createElement("button");
  button.type = "button";
  const name = () => { button.textContent = model.get("label"); };
  let pressed = false;
  button.addEventListener("click", () => {
    pressed = true;
    model.set("presses", model.get("presses") + 1);
    model.save_changes();
  });
  button.addEventListener("blur", (event) => { if (event.relatedTarget) pressed = false; });
  // A press may take its own button out of sight, as an offer that was taken: then the keyboard goes on with what comes after it.
  const sight = new ResizeObserver(() => {
    if (!pressed || button.offsetParent) return;
    pressed = false;
    if (![button, document.body].includes(document.activeElement)) return;
    const all = document.querySelectorAll(".fallow-field :is(input, select, textarea, button), .fallow-fold summary");
    const after = (one) => button.compareDocumentPosition(one) & Node.DOCUMENT_POSITION_FOLLOWING;
    [...all].find((one) => one.offsetParent && after(one))?.focus();
  });
  sight.observe(el);
  el.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:label", name);
  el.classList.add("fallow-field", "fallow-press");
  el.append(button);
  name();
  return () => {
    sight.disconnect();
    model.off("change:label", name);
  };
}
export default { render };
"""


class Button(anywidget.AnyWidget):
    """A push button; each press calls ``act``, which shows its own message when something is wrong."""

    _esm = _ESM
    _css = CSS
    label = traitlets.Unicode("").tag(sync=True)
    presses = traitlets.Int(0).tag(sync=True)

    def __init__(self, *, label: str, act: Callable[[], None]) -> None:
        self._act = act
        super().__init__(label=label)

    @traitlets.observe("presses")
    def _pressed(self, _change: Any) -> None:
        self._act()
