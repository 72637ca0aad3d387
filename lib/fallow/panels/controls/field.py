"""A number typed as text: empty stays empty, a comma is a point, what cannot be used stays with the reason."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import anywidget
import traitlets

from fallow.panels.controls.style import CSS

_ESM = """
let count = 0;
function render({ model, el }) {
  const id = `fallow-field-${++count}-${Math.random().toString(36).slice(2, 8)}`;
  const label = document.createElement("label");
  label.htmlFor = id;
  const unit = model.get("unit");
  label.textContent = unit ? `${model.get("label")}, ${unit}` : model.get("label");
  const input = document.createElement("input");
  Object.assign(input, { type: "text", id, autocomplete: "off" });
  if (model.get("numeric")) input.inputMode = "decimal";
  const message = document.createElement("div");
  message.className = "fallow-message";
  message.id = `${id}-message`;
  message.setAttribute("role", "status");
  const shown = document.createElement("div");
  shown.className = "fallow-shown";
  shown.id = `${id}-shown`;
  shown.setAttribute("role", "status");
  input.setAttribute("aria-describedby", `${message.id} ${shown.id}`);
  let pause = null;
  const send = (enters) => {
    clearTimeout(pause);
    model.set("text", input.value);
    model.set("typed", input.value);
    model.set("enters", model.get("enters") + enters);
    model.save_changes();
  };
  input.addEventListener("blur", () => {
    delete input.dataset.entered;
    if (input.value !== model.get("text")) send(0);
  });
  // What is not yet committed is told apart from what is, so that a page can keep it without acting on it.
  input.addEventListener("input", () => {
    clearTimeout(pause);
    delete input.dataset.entered;
    pause = setTimeout(() => { model.set("typed", input.value); model.save_changes(); }, 250);
  });
  // JupyterLab takes single keys as commands; a key pressed here is meant for the field.
  el.addEventListener("keydown", (event) => {
    event.stopPropagation();
    if (event.key === "Enter") { event.preventDefault(); input.dataset.entered = "yes"; send(1); }
  });
  const follow = () => { if (input.value !== model.get("text")) input.value = model.get("text"); };
  const tell = () => {
    message.textContent = model.get("message");
    shown.textContent = model.get("shown");
    input.setAttribute("aria-invalid", model.get("message") ? "true" : "false");
  };
  // The wish comes late from a busy kernel: a baker who went on to another box by then, or types here, keeps the keyboard.
  const elsewhere = "input:not([data-entered]), select, textarea, [contenteditable=true]";
  const grab = () => {
    if (!model.get("wants_keyboard")) return;
    requestAnimationFrame(() => {
      // Not before this frame: a value set back while its change is told is no change, and the kernel would never hear of it.
      model.set("wants_keyboard", false);
      model.save_changes();
      if (document.activeElement.matches(elsewhere)) return;
      input.focus();
      input.select();
    });
  };
  model.on("change:text", follow);
  model.on("change:message", tell);
  model.on("change:shown", tell);
  model.on("change:wants_keyboard", grab);
  el.classList.add("fallow-field");
  el.append(label, input, message, shown);
  follow();
  tell();
  grab();
  return () => {
    clearTimeout(pause);
    model.off("change:text", follow);
    model.off("change:message", tell);
    model.off("change:shown", tell);
    model.off("change:wants_keyboard", grab);
  };
}
export default { render };
"""

CORRECT = "Correct it, or leave it empty."
_NUMBER = re.compile(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)")
_SPACES = str.maketrans("", "", " \u00a0\u202f")


def number(text: str) -> float | None:
    """Return a typed number, decimal comma or point; empty is None, anything else is refused.

    Our choice. Thousands separators are refused, for 1.500 means one and a half to some readers and 1500 to others.

    >>> number("21,5"), number("  "), number("-4")
    (21.5, None, -4.0)
    >>> number("1.500,0")
    Traceback (most recent call last):
    ValueError: '1.500,0' is not a number; it takes digits and one decimal mark. Leave it empty if not known.
    """
    cleaned = text.translate(_SPACES).replace("\u2212", "-")
    if not cleaned:
        return None
    if not _NUMBER.fullmatch(cleaned):
        message = (
            f"{text.strip()!r} is not a number; it takes digits and one decimal mark. Leave it empty if not known."
        )
        raise ValueError(message)
    return float(cleaned.replace(",", "."))


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of number: ``read`` gives it with how it was converted ('' if it was not), None for an empty box.

    ``step`` says what to do with one outside the ends it is given with ('' for the usual); ``digits_only`` lets a phone show
    its keys for numbers.
    """

    read: Callable[[str], tuple[float | None, str]]
    step: Callable[[float, float, float], str]
    digits_only: bool


def _plain(text: str) -> tuple[float | None, str]:
    return number(text), ""


def _usual_step(_value: float, _low: float, _high: float) -> str:
    return ""


PLAIN = Kind(read=_plain, step=_usual_step, digits_only=True)


class TextField(anywidget.AnyWidget):
    """A line of text with its label; it commits on Enter or on leaving the box, and can show a message below.

    ``text`` is what was committed, ``typed`` what stands in the box a quarter of a second after the last key;
    ``enters`` counts the Enters, ``shown`` is a quiet line below, and ``wants_keyboard`` moves the keyboard here
    once, unless somebody has gone on to another box by then.
    """

    _esm = _ESM
    _css = CSS
    label = traitlets.Unicode("").tag(sync=True)
    unit = traitlets.Unicode("").tag(sync=True)
    numeric = traitlets.Bool(False).tag(sync=True)
    text = traitlets.Unicode("").tag(sync=True)
    message = traitlets.Unicode("").tag(sync=True)
    shown = traitlets.Unicode("").tag(sync=True)
    typed = traitlets.Unicode("").tag(sync=True)
    enters = traitlets.Int(0).tag(sync=True)
    wants_keyboard = traitlets.Bool(False).tag(sync=True)


class NumberField(TextField):
    """A number in a text box: ``value`` is None while it is empty or cannot be used; what was typed is never changed.

    Parameters
    ----------
    label, unit
        Shown above the box, as in 'Temperature, °C'.
    low, high
        Ends of what can be; a number outside stays in the box and its message says why it is not used.
    text
        What stands in the box at first.
    kind
        How the text is read, and what to do where the number cannot be; a plain number if nothing is said.
    hint
        A quiet word below the box, as in 'empty: none'; how a number was read takes its place.
    """

    value = traitlets.Float(None, allow_none=True)

    def __init__(
        self,
        *,
        label: str,
        unit: str,
        low: float,
        high: float,
        text: str = "",
        kind: Kind | None = None,
        hint: str = "",
    ) -> None:
        self._low, self._high, self._kind = low, high, kind or PLAIN
        self._hint, self._converted = "", ""
        super().__init__(label=label, unit=unit, numeric=self._kind.digits_only, shown=hint)
        self.text = text

    @traitlets.observe("text")
    def _read(self, _change: Any) -> None:
        self.read()

    def read(self) -> None:
        """Read the text as it stands; an Enter may be heard before the text that came with it."""
        converted = ""
        try:
            read, converted = self._kind.read(self.text)
            if read is not None and not self._low <= read <= self._high:
                seen = f"{self.text.strip()}, {converted};" if converted else f"{read:g};"
                ends = f"it goes from {self._low:g} to {self._high:g} {self.unit}".rstrip()
                step = "" if converted else self._kind.step(read, self._low, self._high)
                message = f"{self.label} is {seen} {ends}. {step or CORRECT}"
                raise ValueError(message)
        except ValueError as error:
            self.message, self.value = str(error), None
            self._show("")
        else:
            self._show(converted)
            self.message, self.value = "", read

    def _show(self, converted: str) -> None:
        """Show how the number was read in place of the page's own hint, and the hint again after that."""
        if not self._converted:
            self._hint = self.shown
        if converted or self._converted:
            self.shown = converted or self._hint
        self._converted = converted
