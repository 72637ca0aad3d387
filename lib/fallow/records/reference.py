"""What our models make of published numbers: one table, so that no page can claim more than was run."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from fallow.records.reference_files import FLOOR, ReferenceFile, module_and_names, read_references, resolve


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
        model = str(row["model"]).removeprefix(FLOOR)
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
    found, *names = module_and_names(model)
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
