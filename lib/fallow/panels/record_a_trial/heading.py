"""The words on top of a card: the jar's name, what to do next, the last look."""

from __future__ import annotations

import anywidget
import traitlets

from fallow.panels.controls.style import CSS

_ESM = """
function render({ model, el }) {
  const name = document.createElement("h3"), about = document.createElement("div");
  const next = document.createElement("div"), last = document.createElement("div");
  about.className = last.className = "fallow-card-small";
  const show = () => {
    const [said, of, then, seen] = model.get("lines");
    name.textContent = said;
    about.textContent = of;
    next.textContent = then;
    last.textContent = seen;
    next.className = model.get("due_now") ? "fallow-card-next fallow-card-due" : "fallow-card-next";
  };
  model.on("change:lines", show);
  model.on("change:due_now", show);
  el.classList.add("fallow-card-head");
  el.append(name, about, next, last);
  show();
  return () => { model.off("change:lines", show); model.off("change:due_now", show); };
}
export default { render };
"""

_CSS = (
    CSS
    + """
.fallow-card-head { font-family: var(--jp-ui-font-family); color: var(--jp-ui-font-color1, #22303c); padding: 0 5px;
  overflow-wrap: anywhere; }
.fallow-card .fallow-answer { font-size: 15px; min-height: 0; padding: 2px 5px; }
.fallow-card .fallow-field button { margin-right: 0; padding: 4px 7px; }
.fallow-card .fallow-field button, .fallow-card .fallow-field input[type=text] { min-height: 40px; }
.fallow-card .fallow-field input[type=text] { font-size: 17px; }
.fallow-card-head h3 { margin: 2px 0; font-size: 18px; }
.fallow-card-small { font-size: 13px; line-height: 1.4; color: var(--jp-ui-font-color2, #4a5865); }
.fallow-card-next { font-size: 15px; line-height: 1.4; font-weight: 600; margin: 3px 0; }
.fallow-card-due { border-left: 5px solid #00736b; padding-left: 7px; }
[data-jp-theme-light="false"] .fallow-card-due { border-left-color: #58bdb3; }
"""
)


class Heading(anywidget.AnyWidget):
    """Four lines of plain text; a jar that is due has a bar beside what to do."""

    _esm = _ESM
    _css = _CSS
    lines = traitlets.List(traitlets.Unicode(), default_value=["", "", "", ""]).tag(sync=True)
    due_now = traitlets.Bool(False).tag(sync=True)

    def tell(self, *, name: str, about: str, next_text: str, last_text: str) -> None:
        """Show the four lines."""
        self.lines = [name, about, next_text, last_text]
