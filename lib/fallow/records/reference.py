"""Published numbers kept as files, and what our models make of them: one table that cannot claim more than was run.

A file of ``tests/reference`` is JSON: title, source, tag (read, memory or computed), tolerance, model (a dotted name in
fallow.maths, or null when a test of its own uses the file), test, rows of {id, in, out}. A row may carry its own tag,
tolerance, model, unit or attribute, and ``disputed`` with the reason when source and model are known to disagree. A file
may also carry ``attribute`` (what to read off the model's answer), ``unit``, ``range`` and ``covers``.
"""

from __future__ import annotations

import importlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

_FLOOR = "fallow.maths."
_KEYS = ("title", "source", "tag", "tolerance", "model", "test", "rows")


@dataclass(frozen=True, kw_only=True)
class ReferenceFile:
    """One file of published numbers as it stands; ``model`` is None when the test named uses it in its own way."""

    name: str
    title: str
    source: str
    tag: str
    tolerance: Mapping[str, float]
    model: str | None
    test: str
    rows: tuple[Mapping[str, Any], ...]
    attribute: str = ""
    unit: str = ""
    measured: str = ""
    covers: tuple[str, ...] = ()


def read_references(folder: Path) -> list[ReferenceFile]:
    """Return every file of published numbers in a folder, by name.

    Raises
    ------
    ValueError
        When there is none, or a file is not JSON with the keys of this module.
    """
    paths = sorted(Path(folder).glob("*.json"))
    if not paths:
        message = f"{folder} holds no .json file; it must hold the published numbers. Point at tests/reference."
        raise ValueError(message)
    return [_read(path) for path in paths]


def resolve(model: str) -> Any:
    """Return what a dotted name in fallow.maths stands for.

    >>> resolve("fallow.maths.rates.GAENZLE_1998_YEAST.optimum_c")
    27.11...
    >>> resolve("os.system")
    Traceback (most recent call last):
    ValueError: model is 'os.system'; it must lie in fallow.maths. Name a test of its own instead.
    """
    if not model.startswith(_FLOOR):
        message = f"model is {model!r}; it must lie in fallow.maths. Name a test of its own instead."
        raise ValueError(message)
    found, *names = _module_and_names(model)
    for name in names:
        found = getattr(found, name)
    return found


def evaluate(folder: Path) -> pd.DataFrame:
    """Return every published number beside what our model gives for it, one row each.

    Columns: file, row, model, unit, source, against, tag, disputed, deviation, relative (NaN where zero is printed),
    within (the stated tolerance). Files with model null are left to their tests.
    """
    return pd.DataFrame(
        [_held_against(file, row) for file in read_references(folder) if file.model is not None for row in file.rows]
    )


def reference_table(folder: Path) -> pd.DataFrame:
    """Return what each model was checked against and how far it was off at worst, one row a model and file.

    Columns: model, source, measured, against, tag, unit, rows, worst, worst_relative, disputed (rows where source and
    model are known to disagree; left out of the worst), worst_disputed.
    """
    numbers = evaluate(folder)
    rows = []
    for (model, _), group in numbers.groupby(["model", "file"], sort=True):
        sound, known = group[group["disputed"] == ""], group[group["disputed"] != ""]
        first = group.iloc[0]
        rows.append(
            {
                "model": model,
                "source": first["source"],
                "measured": first["measured"],
                "against": first["against"],
                "tag": ", ".join(sorted(set(group["tag"]))),
                "unit": first["unit"],
                "rows": len(sound),
                "worst": sound["deviation"].max(),
                "worst_relative": sound["relative"].max(),
                "disputed": len(known),
                "worst_disputed": known["deviation"].max(),
            }
        )
    return pd.DataFrame(rows)


def reference_markdown(table: pd.DataFrame) -> str:
    """Return the table of ``reference_table`` as Markdown, for the README and the page of published curves."""
    head = "| model | source | measured range | checked against | known by | rows | worst deviation |"
    lines = [head, "| --- | --- | --- | --- | --- | ---: | --- |"]
    for record in table.to_dict("records"):
        row = {str(key): value for key, value in record.items()}
        model = str(row["model"]).removeprefix(_FLOOR)
        cells = (
            f"`{model}`",
            row["source"],
            row["measured"] or "–",
            row["against"],
            row["tag"],
            row["rows"],
            _off(row),
        )
        lines.append("| " + " | ".join(str(cell).replace("|", "/") for cell in cells) + " |")
    return "\n".join(lines) + "\n"


def _read(path: Path) -> ReferenceFile:
    try:
        content = json.loads(path.read_text(encoding="utf-8"))
        absent = [key for key in _KEYS if key not in content]
    except (ValueError, TypeError) as error:
        message = f"{path.name} cannot be read ({error}); it must be JSON in UTF-8. Mend it or take it out."
        raise ValueError(message) from error
    if absent:
        message = f"{path.name} lacks {', '.join(absent)}; every file of numbers has them. Add them."
        raise ValueError(message)
    known = {key: content[key] for key in (*_KEYS, "attribute", "unit") if key in content}
    known |= {"rows": tuple(content["rows"]), "covers": tuple(content.get("covers", ()))}
    return ReferenceFile(name=path.name, measured=content.get("range", ""), **known)


def _module_and_names(model: str) -> tuple[Any, ...]:
    module, *names = model.removeprefix(_FLOOR).split(".")
    return importlib.import_module(_FLOOR + module), *names


def _held_against(file: ReferenceFile, row: Mapping[str, Any]) -> dict[str, Any]:
    model = row.get("model", file.model)
    answer = resolve(model)
    if callable(answer):
        answer = answer(**row["in"])
    attribute = row.get("attribute", "" if "model" in row else file.attribute)
    found = np.asarray(getattr(answer, attribute) if attribute else answer, dtype=float)
    printed = np.asarray(row["out"], dtype=float)
    if found.shape != printed.shape:
        message = (
            f"{file.name}, {row['id']}: {model} gives {found.size} numbers where {printed.size} are printed; they must "
            "be as many. Mend 'out'."
        )
        raise ValueError(message)
    off = np.abs(found - printed)
    relative = np.max(off / np.abs(printed)) if np.all(printed != 0) else np.nan
    deviation = float(np.max(off))
    return {
        "file": file.name,
        "row": row["id"],
        "model": f"{model} {attribute}".rstrip(),
        "unit": row.get("unit", file.unit),
        "source": file.source,
        "measured": file.measured or _measured(model),
        "against": file.title,
        "tag": row.get("tag", file.tag),
        "disputed": row.get("disputed", ""),
        "deviation": deviation,
        "relative": relative,
        "within": _within(row.get("tolerance", file.tolerance), deviation, float(relative)),
    }


def _within(tolerance: Mapping[str, float], deviation: float, relative: float) -> bool:
    return deviation <= tolerance["abs"] if "abs" in tolerance else relative <= tolerance["rel"]


def _measured(model: str) -> str:
    """Return the measured range of the curve that a dotted name passes through, or nothing."""
    found, *names = _module_and_names(model)
    for name in names:
        found = getattr(found, name)
        if hasattr(found, "measured_c"):
            low, high = found.measured_c
            return f"{low:g} to {high:g} °C"
    return ""


def _off(row: Mapping[str, Any]) -> str:
    if not row["rows"]:
        text = "none agrees"
    elif row["worst"] == 0:
        text = "none"
    else:
        share = "" if np.isnan(row["worst_relative"]) else f" ({100 * row['worst_relative']:.2g} %)"
        text = f"{row['worst']:.2g} {row['unit']}".rstrip() + share
    if row["disputed"]:
        text += f"; {row['disputed']} in dispute, up to {row['worst_disputed']:.2g} {row['unit']}".rstrip()
    return text
