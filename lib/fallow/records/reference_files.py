"""Files of published numbers, read as they stand.

A file of ``tests/reference`` is JSON: title, source, tag (read, memory or computed), tolerance, model (a dotted name in
fallow.maths, or null when a test of its own uses the file), test, rows of {id, in, out}. A row may carry its own tag,
tolerance, model, unit or attribute, and ``disputed`` with the reason when source and model are known to disagree. A file
may also carry ``attribute`` (what to read off the model's answer), ``unit``, ``range``, ``checks`` (ids) and ``covers`` (models).
"""

from __future__ import annotations

import importlib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

FLOOR = "fallow.maths."
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
    if not model.startswith(FLOOR):
        message = f"model is {model!r}; it must lie in fallow.maths. Name a test of its own instead."
        raise ValueError(message)
    found, *names = module_and_names(model)
    for name in names:
        found = getattr(found, name)
    return found


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


def module_and_names(model: str) -> tuple[Any, ...]:
    """Return the module of a dotted name in fallow.maths, and the names to follow from it."""
    module, *names = model.removeprefix(FLOOR).split(".")
    return importlib.import_module(FLOOR + module), *names
