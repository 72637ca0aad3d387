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
  // A press may take its own button out of sight, as an offer that was taken: then the keyboard goes on with what came after
  // it, or with what stood before it where nothing is left there.
  let beside = [];
  button.addEventListener("click", () => {
    const all = [...document.querySelectorAll(".fallow-field :is(input, select, textarea, button), .fallow-fold summary")];
    const here = all.indexOf(button);
    beside = [...all.slice(here + 1), ...all.slice(0, here).reverse()];
    model.set("presses", model.get("presses") + 1);
    model.save_changes();
  });
  button.addEventListener("blur", (event) => { if (event.relatedTarget) beside = []; });
  const goOn = () => {
    if (button.offsetParent) return;
    if ([button, document.body].includes(document.activeElement)) beside.find((one) => one.offsetParent)?.focus();
    beside = [];
  };
  const sight = new ResizeObserver(goOn);
  sight.observe(el);
  el.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:label", name);
  el.classList.add("fallow-field", "fallow-press");
  el.append(button);
  name();
  return () => {
    goOn();
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
