"""What stands one click away: a heading that unfolds, and whose content is made only then."""

from __future__ import annotations

import html
from collections.abc import Callable, Sequence
from typing import Any

import anywidget
import traitlets

from fallow.panels.controls.markup import Part, markup
from fallow.panels.controls.style import CSS

_ESM = """
function render({ model, el }) {
  const details = document.createElement("details");
  const summary = document.createElement("summary");
  const body = document.createElement("div");
  body.className = "fallow-note";
  body.setAttribute("aria-live", "polite");
  const name = () => { summary.textContent = model.get("title"); };
  const show = () => {
    const made = model.get("markup");
    if (made) body.innerHTML = made;
    else body.textContent = details.open ? "One moment: this is being worked out." : "";
  };
  const follow = () => { details.open = model.get("unfolded"); };
  details.addEventListener("toggle", () => {
    show();
    if (details.open === model.get("unfolded")) return;
    model.set("unfolded", details.open);
    model.save_changes();
  });
  // JupyterLab takes single keys as commands; a key pressed here is meant for the heading.
  el.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:title", name);
  model.on("change:markup", show);
  model.on("change:unfolded", follow);
  details.append(summary, body);
  el.classList.add("fallow-fold");
  el.append(details);
  name();
  follow();
  show();
  return () => {
    model.off("change:title", name);
    model.off("change:markup", show);
    model.off("change:unfolded", follow);
  };
}
export default { render };
"""

_CSS = (
    CSS
    + """
.fallow-fold { font-family: var(--jp-ui-font-family); margin: 4px 0; max-width: 56em; padding: 0 5px;
  color: var(--jp-ui-font-color1, #22303c); }
.fallow-fold summary { font-size: 15px; font-weight: 600; padding: 5px 0; cursor: pointer; }
.fallow-fold summary:focus-visible { outline: 3px solid #00736b; outline-offset: 2px; }
[data-jp-theme-light="false"] .fallow-fold summary:focus-visible { outline-color: #58bdb3; }
.fallow-fold h4 { font-size: 14px; margin: 12px 0 2px; }
.fallow-fold .fallow-long { max-height: 420px; overflow: auto; padding: 0 8px; margin: 4px 0;
  border: 1px solid var(--jp-border-color1, #c3ccd3); }
.fallow-fold .fallow-long:focus-visible { outline: 3px solid #00736b; }
"""
)


class Fold(anywidget.AnyWidget):
    """A heading with its content folded away; ``content`` is called when it is unfolded, and again after ``renew``.

    Its ValueError is shown as the sentence it carries.
    """

    _esm = _ESM
    _css = _CSS
    title = traitlets.Unicode("").tag(sync=True)
    unfolded = traitlets.Bool(False).tag(sync=True)
    markup = traitlets.Unicode("").tag(sync=True)

    def __init__(self, *, title: str, content: Callable[[], Sequence[Part]]) -> None:
        self._content = content
        super().__init__(title=title)

    def renew(self) -> None:
        """Make the content anew if it is to be seen, or let go of it until somebody unfolds it."""
        self.markup = self._made() if self.unfolded else ""

    @traitlets.observe("unfolded")
    def _turned(self, _change: Any) -> None:
        if self.unfolded and not self.markup:
            self.markup = self._made()

    def _made(self) -> str:
        try:
            return markup(self._content())
        except ValueError as error:
            return f'<p class="fallow-message">{html.escape(str(error))}</p>'
