"""A live chart: the picture is drawn once by Vega in the browser, then only its numbers are sent."""

from __future__ import annotations

import functools
import hashlib
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

import anywidget
import traitlets
import vl_convert

from fallow.charts.picture import VEGA_LITE
from fallow.panels.controls.style import CSS
from fallow.records.inert import seen, seen_within

_ESM = """
async function render({ model, el }) {
  let view = null, busy = false, again = false, shown = {};
  const frame = document.createElement("div");
  frame.className = "fallow-chart";
  el.append(frame);
  const name = () => {
    const svg = frame.querySelector("svg");
    if (!svg) return;
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", model.get("description"));
    frame.dataset.drawn = String(Number(frame.dataset.drawn ?? 0) + 1);
  };
  const draw = async () => {
    if (view) view.finalize();
    shown = {};
    view = (await vegaEmbed(frame, structuredClone(model.get("spec")), { actions: false, renderer: "svg" })).view;
    name();
  };
  const push = async () => {
    if (!view) return;
    if (busy) { again = true; return; }
    busy = true;
    do {
      again = false;
      const update = model.get("update");
      for (const [key, value] of Object.entries(update.signals ?? {})) view.signal(key, value);
      for (const [key, rows] of Object.entries(update.data ?? {})) {
        const text = JSON.stringify(rows);
        // Rows that stand already would be laid out and painted again for nothing.
        if (text !== shown[key]) view.data(key, JSON.parse(text));
        shown[key] = text;
      }
      await view.runAsync();
      name();
    } while (again);
    busy = false;
  };
  model.on("change:update", push);
  await draw();
  await push();
  return () => { model.off("change:update", push); if (view) view.finalize(); };
}
export default { render };
"""


class LiveChart(anywidget.AnyWidget):
    """An Altair chart with named data; ``feed`` sends new rows and signals.

    It carries Vega with it (0.9 MB), so a page has one.
    """

    _css = CSS
    spec = traitlets.Dict().tag(sync=True)
    update = traitlets.Dict().tag(sync=True)
    description = traitlets.Unicode("").tag(sync=True)

    def __init__(self, *, chart: Any, description: str) -> None:
        self._esm = script()
        # Every picture's dictionary is held against Vega-Lite's schema by a test, not again whenever a page begins.
        super().__init__(spec=seen_within(chart.to_dict(validate=False)), description=seen(description))

    def feed(self, *, data: dict[str, list[dict[str, Any]]], signals: dict[str, Any], description: str) -> None:
        """Send rows by dataset name and values by signal name; the picture follows without being drawn anew."""
        with self.hold_sync():
            self.description = seen(description)
            self.update = {"data": seen_within(data), "signals": signals}


@functools.cache
def script() -> str:
    """Return the chart's script with Vega inside it.

    Bundling takes a second or two, so the result is kept beside the environment. A folder that cannot
    be written to costs that time once a kernel, and nothing else.
    """
    mark = hashlib.sha256(f"{vl_convert.__version__} {VEGA_LITE} {_ESM}".encode()).hexdigest()[:16]
    kept = Path(sys.prefix) / "share" / "fallow" / f"live-chart-{mark}.js"
    if kept.is_file():
        return kept.read_text(encoding="utf-8")
    made = str(vl_convert.javascript_bundle(_ESM, vl_version=VEGA_LITE))
    if os.access(sys.prefix, os.W_OK):
        _keep(kept, made)
    return made


def _keep(path: Path, text: str) -> None:
    """Write a whole file or none."""
    path.parent.mkdir(parents=True, exist_ok=True)
    handle, name = tempfile.mkstemp(dir=path.parent, suffix=".part")
    with os.fdopen(handle, "w", encoding="utf-8") as file:
        file.write(text)
    Path(name).replace(path)
