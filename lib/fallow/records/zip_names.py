"""Which names a shared zip may hold, and which of its files are part of an experiment."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable

from fallow.records.changes import FILE as CHANGES_FILE
from fallow.records.package import FILE as PACKAGE_FILE
from fallow.records.problems import shown
from fallow.records.schema import TABLES

VERSIONS_FILE = "versions.json"
PLANS_FOLDER = "plans"
_FILES = frozenset((PACKAGE_FILE, "README.md", "LICENSE", CHANGES_FILE, VERSIONS_FILE, *(t.file for t in TABLES)))
_LONGEST = 200
# names that stand for a device on Windows, with any ending (Microsoft, "Naming Files, Paths, and Namespaces")
_PORTS = tuple(f"{port}{number}" for port in ("com", "lpt") for number in "0123456789¹²³")
_DEVICES = frozenset(("con", "prn", "aux", "nul", "conin$", "conout$", *_PORTS))
_NOWHERE = re.compile(r'[<>"|?*]')


def name_fault(name: str) -> str:
    """Return the rule that a name in a zip breaks, or nothing; it must mean the same file on every system.

    >>> name_fault("rota/feeds.csv"), name_fault("../feeds.csv")
    ('', 'it leads out of the folder')
    """
    parts = name.removesuffix("/").split("/")
    stems = [part.split(".")[0].rstrip().casefold() for part in parts]
    if not name or len(name) > _LONGEST:
        return "it is empty or longer than any name here"
    if any(unicodedata.category(letter) in ("Cc", "Cf", "Cs") for letter in name):
        return "it holds characters that cannot be seen"
    if "\\" in name or ":" in name or name.startswith("/"):
        return "it is a path from the root or a drive, or is written with backslashes"
    if ".." in parts:
        return "it leads out of the folder"
    if any(part in ("", ".") or part != part.strip(" ") or part.endswith(".") for part in parts):
        return "a part of it is empty, a dot, or ends in a dot or a space"
    if any(stem in _DEVICES for stem in stems):
        return "it stands for a device on Windows"
    return "it holds a character that no file name may have on Windows" if _NOWHERE.search(name) else ""


def refuse_names(names: Iterable[str], *, file: str) -> None:
    """Refuse names that are no plain names, or that would be one file on a system that does not tell capitals apart."""
    seen: dict[str, str] = {}
    files: set[str] = set()
    for name in names:
        if fault := name_fault(name):
            _refuse(file, name, fault)
        plain = _plain(name)
        if plain in seen:
            _refuse(file, name, f"{shown(seen[plain])} is the same name where capitals do not count")
        seen[plain] = name
        files |= set() if name.endswith("/") else {plain}
    for plain, name in seen.items():
        parts = plain.split("/")
        if any("/".join(parts[:depth]) in files for depth in range(1, len(parts))):
            _refuse(file, name, "a file of the zip stands where its folder would be")


def _plain(name: str) -> str:
    return unicodedata.normalize("NFKC", name.removesuffix("/")).casefold()


def _refuse(file: str, name: str, rule: str) -> None:
    message = f"{file} holds {shown(name)}; {rule}. Nothing was imported; ask whoever sent it for a zip made by Fallow."
    raise ValueError(message)


def is_kept(name: str) -> bool:
    """Whether a file, by its path in the experiment's folder, is part of an experiment as it is shared.

    >>> [is_kept(name) for name in ("feeds.csv", "analysis.ipynb", "plans/2026-03-29-J1-1.json", ".fallow/journal")]
    [True, True, True, False]
    """
    first, _, rest = name.partition("/")
    if rest:
        return first == PLANS_FOLDER and "/" not in rest and rest.endswith(".json") and not rest.startswith(".")
    return first in _FILES or (first.endswith(".ipynb") and not first.startswith("."))
