"""What saved put-away plans say their jars owe on return, to begin from in place of days and shelf."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pandas as pd

from fallow.plans.hold import Owed
from fallow.plans.saved import owed_as_saved, return_as_saved, saved_put_aways
from fallow.records.experiment import Experiment

FROM_DAYS = "from its days in the cold"
_T = TypeVar("_T")


class Promised:
    """The jars of a folder of experiments with a saved put-away plan; ``troubles`` says what could not be read, and why."""

    def __init__(self, folder: Path) -> None:
        self._found: dict[str, tuple[Path, str]] = {}
        self.troubles: list[str] = []
        for path in sorted({plan.parent.parent for plan in folder.glob("*/plans/*.json")}):
            try:
                jars = saved_put_aways(Experiment.open(path))["jar"].unique()
            except ValueError as error:
                self.troubles.append(f"{path.name}: {error}")
            else:
                self._found |= {f"as planned for {jar} ({path.name})": (path, str(jar)) for jar in jars}

    @property
    def options(self) -> list[str]:
        """What can be chosen: first the days in the cold."""
        return [FROM_DAYS, *self._found]

    def owed(self, choice: str) -> Owed | None:
        """Return what the newest plan of the chosen jar says, None for the days in the cold."""
        return self._of(choice, owed_as_saved)

    def returns(self, choice: str) -> pd.Timestamp | None:
        """Return the return for which that plan says so, None for the days in the cold."""
        return self._of(choice, return_as_saved)

    def _of(self, choice: str, told: Callable[..., _T]) -> _T | None:
        if choice not in self._found:
            return None
        path, jar = self._found[choice]
        return told(Experiment.open(path), jar=jar)
