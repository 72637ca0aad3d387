"""A line that says when the page has lost its kernel, and that lets the page look at the clock now and then."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import anywidget
import traitlets

from fallow.panels.controls.style import CSS

_ESM = """
function render({ model, el }) {
  const box = document.createElement("div");
  box.className = "fallow-message fallow-alive";
  box.setAttribute("role", "alert");
  let gone = false, asked = 0;
  const say = (text) => { if (box.textContent !== text) box.textContent = text; };
  const lost = () => { gone = true; say(model.get("lost_text")); };
  const beat = () => {
    if (gone) return;
    const silent = model.get("heard") !== model.get("beats");
    asked = silent ? asked + 1 : 0;
    say(asked >= 3 ? model.get("lost_text") : "");
    model.set("beats", model.get("beats") + 1);
    try { model.save_changes(); } catch (error) { lost(); }
  };
  model.set("browser_zone", Intl.DateTimeFormat().resolvedOptions().timeZone ?? "");
  model.save_changes();
  model.on("comm_live_update", lost);
  const clock = setInterval(beat, model.get("beat_seconds") * 1000);
  el.append(box);
  return () => { clearInterval(clock); model.off("comm_live_update", lost); };
}
export default { render };
"""

LOST = (
    "This page is no longer connected, so nothing typed from here on is kept. Choose Run ▸ Run All Cells: "
    "what you had typed is there again."
)


class Alive(anywidget.AnyWidget):
    """Shows nothing while the kernel answers; ``on_beat`` is called every ``beat_seconds``."""

    _esm = _ESM
    _css = CSS
    lost_text = traitlets.Unicode(LOST).tag(sync=True)
    beat_seconds = traitlets.Float(20.0).tag(sync=True)
    beats = traitlets.Int(0).tag(sync=True)
    heard = traitlets.Int(0).tag(sync=True)
    browser_zone = traitlets.Unicode("").tag(sync=True)

    def __init__(self, *, on_beat: Callable[[], None]) -> None:
        self._on_beat = on_beat
        super().__init__()

    @traitlets.observe("beats")
    def _beaten(self, _change: Any) -> None:
        self.heard = self.beats
        self._on_beat()
