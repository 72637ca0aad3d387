"""Which clock hangs on the kitchen's wall: what the browser says, for the kernel may run on a machine elsewhere."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any
from zoneinfo import available_timezones

import traitlets

from fallow.panels.controls.field import TextField

_TELL = """
function told(context) {
  const { model } = context, off = render(context);
  if (!model.get("browser")) {
    model.set("browser", Intl.DateTimeFormat().resolvedOptions().timeZone);
    model.save_changes();
  }
  return off;
}
export default { render: told };
"""


class ZoneField(TextField):
    """A time zone in a text box: ``value`` is its IANA name, always one that exists; what is none stays with the reason.

    Parameters
    ----------
    label
        Shown above the box.
    text
        The zone; left empty, the machine's own, and the browser's as soon as the page is shown and nobody has typed.
    """

    _esm = TextField._esm.replace("export default { render };", _TELL)
    browser = traitlets.Unicode("").tag(sync=True)
    value = traitlets.Unicode("UTC")

    def __init__(self, *, label: str, text: str = "") -> None:
        super().__init__(label=label)
        self.text = text or machine_zone()
        self._first = "" if text else self.text

    @traitlets.observe("browser")
    def _told(self, _change: Any) -> None:
        if self.text == self._first and self.browser in available_timezones():
            self.text = self.browser

    @traitlets.observe("text")
    def _read(self, _change: Any) -> None:
        if self.text.strip() in available_timezones():
            self.message, self.value = "", self.text.strip()
        else:
            self.message = (
                f"{self.text.strip()!r} is no time zone; it must be a name such as Europe/Berlin. "
                f"Until then it is {self.value}."
            )


def machine_zone() -> str:
    """Return this machine's IANA time zone: from TZ, else from where /etc/localtime points to, else UTC.

    >>> machine_zone() in available_timezones()
    True
    """
    known = available_timezones()
    named = os.environ.get("TZ", "").removeprefix(":")
    _, _, linked = str(Path("/etc/localtime").resolve()).partition("zoneinfo/")
    return next((name for name in (named, linked) if name in known), "UTC")
