"""A button that hands the browser a file made at the moment it is pressed; nothing leaves the machine."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import anywidget
import traitlets

from fallow.panels.controls.style import CSS
from fallow.records.inert import seen

_ESM = """
function save(bytes, name, mime) {
  const address = URL.createObjectURL(new Blob([bytes], { type: mime }));
  const link = document.createElement("a");
  Object.assign(link, { href: address, download: name });
  document.body.append(link);
  link.click();
  link.remove();
  // A browser may read the address a little after the click, so it is let go later.
  setTimeout(() => URL.revokeObjectURL(address), 60000);
}
function render({ model, el }) {
  const button = document.createElement("button");
  button.type = "button";
  const message = document.createElement("div");
  message.setAttribute("role", "status");
  // The same button may stand on the page twice; only the one that was pressed saves.
  let waiting = false;
  const name = () => { button.textContent = model.get("label"); };
  const tell = () => {
    message.className = model.get("trouble") ? "fallow-message" : "fallow-said";
    message.textContent = model.get("message");
  };
  const arrive = (said, buffers) => {
    if (!waiting || said.kind !== "file") return;
    waiting = false;
    save(buffers[0], said.file_name, said.mime);
  };
  button.addEventListener("click", () => {
    waiting = true;
    model.set("presses", model.get("presses") + 1);
    model.save_changes();
  });
  el.addEventListener("keydown", (event) => event.stopPropagation());
  model.on("change:label", name);
  model.on("change:message", tell);
  model.on("change:trouble", tell);
  model.on("msg:custom", arrive);
  el.classList.add("fallow-field");
  el.append(button, message);
  name();
  tell();
  return () => {
    model.off("change:label", name);
    model.off("change:message", tell);
    model.off("change:trouble", tell);
    model.off("msg:custom", arrive);
  };
}
export default { render };
"""


class Download(anywidget.AnyWidget):
    """A button; each press makes the content and the browser saves it, or the reason why not is shown below.

    Parameters
    ----------
    label
        What the button says.
    file_name
        The name it is saved under; set it anew when it should change.
    mime
        The kind of file, as in 'text/calendar' (RFC 6838); text is sent as UTF-8.
    content
        Called at each press; returns text or bytes. Its ValueError is shown as the sentence it carries.
    """

    _esm = _ESM
    _css = CSS
    label = traitlets.Unicode("").tag(sync=True)
    presses = traitlets.Int(0).tag(sync=True)
    message = traitlets.Unicode("").tag(sync=True)
    trouble = traitlets.Bool(False).tag(sync=True)

    def __init__(self, *, label: str, file_name: str, mime: str, content: Callable[[], bytes | str]) -> None:
        self.file_name, self.mime, self._content = file_name, mime, content
        super().__init__(label=label)

    @traitlets.observe("presses")
    def _pressed(self, _change: Any) -> None:
        try:
            made = self._content()
        except ValueError as error:
            self._tell(str(error), trouble=True)
            return
        sent = made.encode("utf-8") if isinstance(made, str) else made
        self.send({"kind": "file", "file_name": self.file_name, "mime": self.mime}, buffers=[sent])
        self._tell(f"Saved as {self.file_name}, where your browser keeps its downloads.", trouble=False)

    def _tell(self, message: str, *, trouble: bool) -> None:
        with self.hold_sync():
            self.message, self.trouble = seen(message), trouble
