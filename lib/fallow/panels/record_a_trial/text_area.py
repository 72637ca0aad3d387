"""A box of several lines, for rows that are pasted."""

from __future__ import annotations

import anywidget
import traitlets

from fallow.panels.controls.style import CSS

_ESM = """
let count = 0;
function render({ model, el }) {
  const id = `fallow-area-${++count}-${Math.random().toString(36).slice(2, 8)}`;
  const label = document.createElement("label");
  label.htmlFor = id;
  label.textContent = model.get("label");
  const area = document.createElement("textarea");
  Object.assign(area, { id, rows: 8, spellcheck: false, autocomplete: "off" });
  let pause = null;
  const send = () => {
    clearTimeout(pause);
    if (area.value === model.get("text")) return;
    model.set("typed", area.value);
    model.set("text", area.value);
    model.save_changes();
  };
  area.addEventListener("input", () => { clearTimeout(pause); pause = setTimeout(send, 400); });
  area.addEventListener("blur", send);
  // JupyterLab takes single keys as commands; a key pressed here is meant for the box.
  el.addEventListener("keydown", (event) => event.stopPropagation());
  const follow = () => { if (area.value !== model.get("text")) area.value = model.get("text"); };
  model.on("change:text", follow);
  el.classList.add("fallow-field", "fallow-area");
  el.append(label, area);
  follow();
  return () => { clearTimeout(pause); model.off("change:text", follow); };
}
export default { render };
"""


class TextArea(anywidget.AnyWidget):
    """Several lines of text; ``text`` follows a moment after the last key, for nothing is done with it but shown."""

    _esm = _ESM
    _css = CSS + ".fallow-field.fallow-area { max-width: 860px; } .fallow-area textarea { white-space: pre; }"
    label = traitlets.Unicode("").tag(sync=True)
    text = traitlets.Unicode("").tag(sync=True)
    typed = traitlets.Unicode("").tag(sync=True)
