"""A slider: a number inside fixed ends, moved by hand or by keyboard, with its value and unit said aloud."""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from fallow.panels.controls.style import CSS

_ESM = """
let count = 0;
function render({ model, el }) {
  const id = `fallow-slide-${++count}-${Math.random().toString(36).slice(2, 8)}`;
  const label = document.createElement("label");
  label.htmlFor = id;
  label.textContent = model.get("label");
  const range = document.createElement("input");
  Object.assign(range, { type: "range", id, min: model.get("low"), max: model.get("high"), step: model.get("step") });
  const shown = document.createElement("output");
  shown.htmlFor = id;
  const row = document.createElement("div");
  row.className = "fallow-row";
  row.append(range, shown);
  const show = () => {
    const unit = Number(range.value) === 1 ? model.get("unit").replace(/^days$/, "day") : model.get("unit");
    const text = `${Number(range.value).toFixed(model.get("digits"))} ${unit}`.trim();
    shown.textContent = text;
    range.setAttribute("aria-valuetext", text);
  };
  range.addEventListener("input", () => { show(); model.set("value", Number(range.value)); model.save_changes(); });
  // JupyterLab takes single keys as commands; a key pressed here is meant for the slider.
  el.addEventListener("keydown", (event) => event.stopPropagation());
  const follow = () => { range.value = model.get("value"); show(); };
  model.on("change:value", follow);
  el.classList.add("fallow-field");
  el.append(label, row);
  follow();
  return () => model.off("change:value", follow);
}
export default { render };
"""


class Slide(anywidget.AnyWidget):
    """A native range input with its label, for a number whose ends are known.

    Parameters
    ----------
    label, unit
        Words beside it; the unit is said with the value.
    low, high, step, value
        Ends, step and start; a value set from Python must lie within the ends.
    """

    _esm = _ESM
    _css = CSS
    label = traitlets.Unicode("").tag(sync=True)
    unit = traitlets.Unicode("").tag(sync=True)
    low = traitlets.Float(0.0).tag(sync=True)
    high = traitlets.Float(1.0).tag(sync=True)
    step = traitlets.Float(0.1).tag(sync=True)
    digits = traitlets.Int(0).tag(sync=True)
    value = traitlets.Float(0.0).tag(sync=True)

    def __init__(self, *, label: str, unit: str, low: float, high: float, step: float, value: float) -> None:
        digits = max(0, len(f"{step:g}".partition(".")[2]))
        super().__init__(label=label, unit=unit, low=low, high=high, step=step, digits=digits, value=value)

    @traitlets.validate("value")
    def _within(self, proposal: Any) -> float:
        value = float(proposal["value"])
        if not self.low <= value <= self.high:
            ends = f"{self.low:g} to {self.high:g} {self.unit}"
            message = f"{self.label} is {value:g}; it goes from {ends}. Choose a number between."
            raise ValueError(message)
        return value
