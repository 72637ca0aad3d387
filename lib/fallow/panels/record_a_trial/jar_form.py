"""What happens to one jar beside feeds and looks: into the cold, out again, its end, a row that does not count."""

from __future__ import annotations

from typing import Any, ClassVar

import ipywidgets

from fallow.panels.controls.answer import Answer
from fallow.panels.controls.button import Button
from fallow.panels.controls.choice import Choice
from fallow.panels.controls.field import TextField
from fallow.panels.controls.temperature import temperature_field
from fallow.panels.record_a_trial import entries
from fallow.panels.record_a_trial.desk import Desk, SecondEnter, moment_or_none, number_in
from fallow.panels.record_a_trial.kept import cleared

AS_IT_IS = "as it is"
NOTHING = "nothing"


class JarForm(ipywidgets.VBox):
    """Fields left empty change nothing; a row is withdrawn with its reason and stays in the file."""

    FORM: ClassVar[str] = "jar"

    def __init__(self, desk: Desk, *, jar: str) -> None:
        self._desk, self.jar = desk, jar
        self.put_away = desk.moment(label="Into the cold", text="")
        self.out = desk.moment(label="Out of the cold", text="")
        self.place = TextField(label="Held in")
        self.hold_c = temperature_field(label="Temperature of the hold", low=-30, high=30)
        self.status = Choice(label="The jar is", options=[AS_IT_IS, "running", "done", "broken", "lost"])
        self.what = Choice(label="Withdraw", options=[NOTHING, *self._withdrawable()])
        self.reason = TextField(label="Because")
        self.answer = Answer()
        for name, control in self.controls.items():
            desk.drafts.attach(control, jar=jar, form=self.FORM, name=name)
        self._second = SecondEnter()
        for field in (self.put_away, self.out, self.place, self.hold_c):
            field.observe(self._entered, "enters")
        save = Button(label="Save jar", act=self.save)
        withdraw = Button(label="Withdraw it", act=self.withdraw)
        ending = [self.put_away, self.out, self.place, self.hold_c, self.status, save, self.answer]
        super().__init__([*ending, self.what, self.reason, withdraw])

    @property
    def controls(self) -> dict[str, TextField | Choice]:
        """The controls by what they hold."""
        return {
            "put_away_at": self.put_away, "out_at": self.out, "hold_place": self.place, "hold_temp_c": self.hold_c,
            "status": self.status, "reason": self.reason,
        }  # fmt: skip

    def save(self) -> None:
        """Write what was filled in into the jar's row."""
        if self._desk.do(self._write, answer=self.answer, kept=(self.jar, self.FORM)):
            cleared([self.put_away, self.out, self.place, self.hold_c])
            self.status.value = AS_IT_IS

    def withdraw(self) -> None:
        """Let the chosen row no longer count."""
        if self._desk.do(self._withdraw, answer=self.answer, kept=(self.jar, self.FORM)):
            cleared([self.reason])
            self.look_again()

    def look_again(self) -> None:
        """Offer the rows that count now."""
        self.what.value = NOTHING
        self.what.options = [NOTHING, *self._withdrawable()]

    def _entered(self, _change: Any) -> None:
        """Show the times in full at the first Enter, save at the second."""
        texts = [self.put_away.text, self.out.text, self.place.text, self.hold_c.text, self.status.value]
        if self._second.comes(texts):
            self.save()
            return
        said = [f"{field.label} {field.shown}" for field in (self.put_away, self.out) if field.shown]
        self.answer.say(f"{'; '.join(said) or 'No time typed'}: Enter again to save.")

    def _write(self) -> str:
        return entries.save_place(
            self._desk.experiment,
            jar=self.jar,
            now=self._desk.now(),
            put_away_at=moment_or_none(self.put_away),
            out_at=moment_or_none(self.out),
            hold_place=self.place.text.strip(),
            hold_temp_c=number_in(self.hold_c),
            status="" if self.status.value == AS_IT_IS else self.status.value,
        )

    def _withdraw(self) -> str:
        chosen, rows = self.what.value, self._withdrawable()
        if chosen not in rows:
            message = "nothing is chosen to withdraw; one row must be meant. Choose the look, the feed or the jar."
            raise ValueError(message)
        table, key = rows[chosen]
        self._desk.experiment.withdraw(table, key, self.reason.text)
        return f"Withdrawn: {chosen}. It stays in the file with the reason."

    def _withdrawable(self) -> dict[str, tuple[str, tuple[object, ...]]]:
        return entries.withdrawable(self._desk.experiment, jar=self.jar, now=self._desk.now())
