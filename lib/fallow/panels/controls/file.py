"""A file chosen in the browser's own dialog; its bytes come to the kernel on this machine and go nowhere else."""

from __future__ import annotations

import anywidget
import traitlets

from fallow.panels.controls.style import CSS

# Our choice: a page hands its kernel at most 10 MB in one message (the server's own limit); a larger file has a path.
LARGEST_BYTES = 8_000_000

_ESM = """
let count = 0;
function render({ model, el }) {
  const id = `fallow-file-${++count}-${Math.random().toString(36).slice(2, 8)}`;
  const label = document.createElement("label");
  label.htmlFor = id;
  label.textContent = model.get("label");
  const input = document.createElement("input");
  Object.assign(input, { type: "file", id, accept: model.get("accept") });
  input.style.padding = "6px 0";
  const message = document.createElement("div");
  message.id = `${id}-message`;
  message.setAttribute("role", "status");
  message.className = "fallow-message";
  input.setAttribute("aria-describedby", message.id);
  const tell = (text) => { message.textContent = text; input.setAttribute("aria-invalid", text ? "true" : "false"); };
  input.addEventListener("change", async () => {
    const file = input.files[0];
    if (!file) return;
    if (file.size > model.get("largest_bytes")) {
      tell(`${file.name} is larger than ${model.get("largest_bytes") / 1e6} MB; type its path instead.`);
      return;
    }
    tell("");
    const bytes = new DataView(await file.arrayBuffer());
    model.set({ content: bytes, file_name: file.name, chosen: model.get("chosen") + 1 });
    model.save_changes();
  });
  el.addEventListener("keydown", (event) => event.stopPropagation());
  const follow = () => { if (!model.get("file_name")) input.value = ""; };
  model.on("change:file_name", follow);
  el.classList.add("fallow-field");
  el.append(label, input, message);
  tell("");
  return () => model.off("change:file_name", follow);
}
export default { render };
"""


class FilePick(anywidget.AnyWidget):
    """A labelled file dialog; ``content`` holds the bytes of the file named ``file_name``, ``chosen`` counts the choices.

    Parameters
    ----------
    label
        What the dialog is for.
    accept
        The endings it offers first, as in '.csv,.txt'.
    """

    _esm = _ESM
    _css = CSS
    label = traitlets.Unicode("").tag(sync=True)
    accept = traitlets.Unicode("").tag(sync=True)
    largest_bytes = traitlets.Int(LARGEST_BYTES).tag(sync=True)
    file_name = traitlets.Unicode("").tag(sync=True)
    content = traitlets.CBytes(b"").tag(sync=True)
    chosen = traitlets.Int(0).tag(sync=True)

    def __init__(self, *, label: str, accept: str) -> None:
        super().__init__(label=label, accept=accept)

    def forget(self) -> None:
        """Let the chosen file go."""
        with self.hold_sync():
            self.file_name, self.content = "", b""

    def choose(self, *, file_name: str, content: bytes) -> None:
        """Do what the browser does when a file is chosen."""
        self.set_trait("content", content)
        self.set_trait("file_name", file_name)
        self.set_trait("chosen", self.chosen + 1)
