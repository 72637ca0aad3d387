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
  let gone = false, unanswered = 0;
  const say = (text) => { if (box.textContent !== text) box.textContent = text; };
  const lost = () => { gone = true; say(model.get("lost_text")); };
  // A restart is told by the widgets' own manager; a kernel that died, or was restarted from elsewhere, only by silence.
  const beat = () => {
    if (gone) return;
    unanswered = model.get("heard") === model.get("beats") ? 0 : unanswered + 1;
    say(unanswered >= 3 ? model.get("lost_text") : "");
    model.set("beats", model.get("beats") + 1);
    model.save_changes();
  };
  model.on("comm_live_update", lost);
  const clock = setInterval(beat, model.get("beat_seconds") * 1000);
  el.append(box);
  return () => { clearInterval(clock); model.off("comm_live_update", lost); };
}
export default { render };
"""

_BEATS_A_LOOK = 6
LOST = (
    "This page is no longer connected: nothing typed from here on is kept. Choose Run ▸ Run All Cells; what you had "
    "typed is there again. If that does not help, reload the browser page first."
)


class Alive(anywidget.AnyWidget):
    """Shows nothing while the kernel answers; ``on_beat`` is called at every sixth beat, twice a minute."""

    _esm = _ESM
    _css = CSS
    lost_text = traitlets.Unicode(LOST).tag(sync=True)
    beat_seconds = traitlets.Float(5.0).tag(sync=True)
    beats = traitlets.Int(0).tag(sync=True)
    heard = traitlets.Int(0).tag(sync=True)

    def __init__(self, *, on_beat: Callable[[], None]) -> None:
        self._on_beat = on_beat
        super().__init__()

    @traitlets.observe("beats")
    def _beaten(self, _change: Any) -> None:
        self.heard = self.beats
        if self.beats % _BEATS_A_LOOK == 0:
            self._on_beat()
