"""A choice of one among a few, as the browser's own list."""

from __future__ import annotations

from typing import Any

import anywidget
import traitlets

from fallow.panels.controls.style import CSS

_ESM = """
let count = 0;
function render({ model, el }) {
  const id = `fallow-choice-${++count}-${Math.random().toString(36).slice(2, 8)}`;
  const label = document.createElement("label");
  label.htmlFor = id;
  label.textContent = model.get("label");
  const list = document.createElement("select");
  list.id = id;
  const fill = () => {
    list.replaceChildren(...model.get("options").map((text) => new Option(text, text)));
    list.value = model.get("value");
  };
  list.addEventListener("change", () => { model.set("value", list.value); model.save_changes(); });
  el.addEventListener("keydown", (event) => event.stopPropagation());
  const follow = () => { list.value = model.get("value"); };
  model.on("change:options", fill);
  model.on("change:value", follow);
  el.classList.add("fallow-field");
  el.append(label, list);
  fill();
  return () => { model.off("change:options", fill); model.off("change:value", follow); };
}
export default { render };
"""


class Choice(anywidget.AnyWidget):
    """A labelled list; ``value`` is always one of ``options``."""

    _esm = _ESM
    _css = CSS
    label = traitlets.Unicode("").tag(sync=True)
    options = traitlets.List(traitlets.Unicode()).tag(sync=True)
    value = traitlets.Unicode("").tag(sync=True)

    def __init__(self, *, label: str, options: list[str], value: str | None = None) -> None:
        if not options:
            message = (
                f"{label} has nothing to choose from; it needs at least one entry. Check the folder it is read from."
            )
            raise ValueError(message)
        super().__init__(label=label, options=options, value=options[0] if value is None else value)

    @traitlets.validate("value")
    def _known(self, proposal: Any) -> str:
        value = str(proposal["value"])
        if value not in self.options:
            message = f"{self.label} is {value!r}; it can be {', '.join(self.options)}. Choose one of these."
            raise ValueError(message)
        return value
