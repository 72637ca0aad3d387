"""The page's one sentence, said aloud when it changes, and quiet notes below it."""

from __future__ import annotations

import anywidget
import traitlets

from fallow.panels.controls.markup import Part, markup
from fallow.panels.controls.style import CSS
from fallow.records.inert import seen

_ESM = """
function render({ model, el }) {
  const box = document.createElement("div");
  const show = () => {
    box.className = model.get("trouble") ? "fallow-answer fallow-message" : "fallow-answer";
    box.textContent = model.get("text");
  };
  box.setAttribute("role", "status");
  model.on("change:text", show);
  model.on("change:trouble", show);
  el.append(box);
  show();
  return () => { model.off("change:text", show); model.off("change:trouble", show); };
}
export default { render };
"""

_NOTE = """
function render({ model, el }) {
  const box = document.createElement("div");
  box.className = "fallow-note";
  const show = () => { box.innerHTML = model.get("markup"); };
  model.on("change:markup", show);
  el.append(box);
  show();
  return () => model.off("change:markup", show);
}
export default { render };
"""


class Answer(anywidget.AnyWidget):
    """One sentence with role=status; ``trouble`` marks it as the reason why there is no answer."""

    _esm = _ESM
    _css = CSS
    text = traitlets.Unicode("").tag(sync=True)
    trouble = traitlets.Bool(False).tag(sync=True)

    def say(self, text: str) -> None:
        """Show an answer."""
        with self.hold_sync():
            self.text, self.trouble = seen(text), False

    def refuse(self, error: ValueError) -> None:
        """Show why there is no answer; a sentence that begins with a plain word begins with a capital."""
        said = seen(str(error))
        if said.partition(" ")[0].isalpha():
            said = said[:1].upper() + said[1:]
        with self.hold_sync():
            self.text, self.trouble = said, True


class Note(anywidget.AnyWidget):
    """Lines and tables below the answer."""

    _esm = _NOTE
    _css = CSS
    markup = traitlets.Unicode("").tag(sync=True)

    def tell(self, *parts: Part) -> None:
        """Show paragraphs of plain text and tables, in order; every text is escaped."""
        self.markup = markup(parts)
