"""What was typed and not yet saved: kept beside the record, never in it, and found again after a closed tab.

The texts stand in ``.fallow/drafts.json`` of the experiment's folder, which git and a shared copy leave out. The file is
written whole under the record's lock and renamed into place, so it is never torn and two pages lose nothing. Several
pages share the file; each reads and writes only drafts of its own, whatever the others keep there.
"""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from pathlib import Path

from fallow.records.journal import WORK_FOLDER
from fallow.records.lock import locked

FILE = "drafts.json"
LONGEST = 1_000_000  # Our choice: more than anybody types or pastes, less than would fill a disk.
_PATIENCE_SECONDS = 5.0

Place = tuple[str, ...]  # Where on its page a draft stands, as in (jar, form, box); empty for a page kept as a whole.


class Page(Enum):
    """Who keeps drafts; the value is the page's name in the file."""

    TRIAL_BOOK = "record a trial"
    BRING_BACK = "bring back"
    ONE_JAR = "one jar"


@dataclass(frozen=True, kw_only=True)
class Draft:
    """A text that was typed and when: 'now' and '25 min ago' mean that moment, not the one they are read again."""

    text: str
    typed_at: datetime


def drafts_path(folder: Path) -> Path:
    """Return where the drafts of an experiment stand."""
    return folder / WORK_FOLDER / FILE


def read_drafts(folder: Path, *, page: Page) -> dict[Place, Draft]:
    """Return every draft of a page by its place; none when nothing was typed.

    Raises
    ------
    ValueError
        When the file is there and is not what ``keep_drafts`` writes.
    """
    placed = [(_place(key, page), draft) for key, draft in _read(folder).items()]
    return {place: draft for place, draft in placed if place is not None}


def keep_drafts(folder: Path, *, page: Page, texts: Mapping[Place, str], typed_at: datetime) -> None:
    """Keep a page's texts by place beside all that was kept before; an empty text lets its draft go.

    Raises
    ------
    ValueError
        When the folder cannot be written, a text is endless, or another program keeps the lock.
    """
    for text in texts.values():
        if len(text) > LONGEST:
            message = f"the text has {len(text)} letters; a draft keeps {LONGEST}. Paste it in parts."
            raise ValueError(message)
    with locked(folder, timeout_seconds=_PATIENCE_SECONDS):
        kept = _read(folder)
        new = {_key(place, page): Draft(text=text, typed_at=typed_at) for place, text in texts.items()}
        wanted = {key: draft for key, draft in {**kept, **new}.items() if draft.text}
        if wanted != kept:
            _write(drafts_path(folder), wanted)


def _key(place: Place, page: Page) -> str:
    """Return how a draft is named in the file: its page, and its place on it as a JSON list."""
    return f"{page.value} {json.dumps(place)}" if place else page.value


def _place(key: str, page: Page) -> Place | None:
    """Return where on a page a key of the file stands; None for a key that names no place there."""
    if key == page.value:
        return ()
    name, opened, rest = key.partition(" [")
    if name != page.value or not opened:
        return None
    try:
        place = json.loads("[" + rest)
    except (ValueError, RecursionError):
        return None
    return tuple(place) if all(isinstance(part, str) for part in place) else None


def _named_by_page(key: str) -> str:
    """Return a key with its page's name; the trial book, first to keep drafts, wrote its places without one."""
    return f"{Page.TRIAL_BOOK.value} {key}" if key.startswith("[") else key


def _read(folder: Path) -> dict[str, Draft]:
    """Return every draft of every page by its key."""
    path = drafts_path(folder)
    if not path.exists():
        return {}
    try:
        found = json.loads(path.read_bytes())
        return {
            _named_by_page(str(key)): Draft(text=str(one["text"]), typed_at=_aware(str(one["typed_at"])))
            for key, one in found.items()
        }
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        message = (
            f"{WORK_FOLDER}/{FILE} holds no drafts of this library ({error}); the record itself is not concerned. Move "
            "the file away, and run the page again."
        )
        raise ValueError(message) from error


def _aware(text: str) -> datetime:
    at = datetime.fromisoformat(text)
    if at.tzinfo is None:
        raise ValueError(text)
    return at


def _write(path: Path, drafts: Mapping[str, Draft]) -> None:
    lines = {key: {"text": draft.text, "typed_at": draft.typed_at.isoformat()} for key, draft in drafts.items()}
    part = path.with_suffix(".part")
    try:
        with part.open("wb") as stream:
            stream.write(json.dumps(lines, indent=1).encode("ascii"))
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
    except OSError as error:
        message = (
            f"{path.name} cannot be written ({error.strerror}); what you type is not kept until you save it. Make room "
            "on the disk, or save at once."
        )
        raise ValueError(message) from error
