"""A path as somebody types or copies it."""

from __future__ import annotations

from pathlib import Path

from fallow.records.problems import shown


def typed_path(text: str) -> Path:
    """Return a typed path: spaces and quotation marks around it taken off, ~ followed home.

    >>> typed_path(' "logs/fridge.csv" ').as_posix()
    'logs/fridge.csv'
    """
    bare = text.strip().strip("\"'")
    try:
        if not bare or "\0" in bare:
            raise RuntimeError
        return Path(bare).expanduser()
    except RuntimeError as error:
        message = f"the path is {shown(text)}; it leads nowhere on this machine. Type it in full, from the root."
        raise ValueError(message) from error
