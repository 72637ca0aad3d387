"""The plan in hand, kept beside the experiments: a way back takes two days, and a browser may be closed in between."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from fallow.panels.bring_back.looks import Look
from fallow.plans.look import Top
from fallow.records.drafts import Page, keep_drafts, read_drafts


@dataclass(frozen=True, kw_only=True)
class InHand:
    """Where the controls stood, the looks since, when the dough is due, and which version the calendar has, if any."""

    written: dict[str, str]
    looks: tuple[Look, ...]
    mix: datetime
    calendar: int | None = None


def keep_in_hand(folder: Path, kept: InHand, *, now: datetime) -> None:
    """Keep the plan in hand in place of the one before.

    Raises
    ------
    ValueError
        When the folder cannot be written.
    """
    text = json.dumps(
        {**vars(kept), "looks": [{**vars(look), "top": look.top.value} for look in kept.looks]},
        default=datetime.isoformat,
    )
    keep_drafts(folder, page=Page.BRING_BACK, texts={(): text}, typed_at=now)


def read_in_hand(folder: Path, *, now: datetime) -> InHand | None:
    """Return the plan in hand, or None where there is none or its dough has been mixed.

    Raises
    ------
    ValueError
        When what is kept there is not what ``keep_in_hand`` writes.
    """
    draft = read_drafts(folder, page=Page.BRING_BACK).get(())
    if draft is None:
        return None
    try:
        kept = json.loads(draft.text)
        looks = tuple(_look(row) for row in kept["looks"])
        found = InHand(**{**kept, "looks": looks, "mix": _at(kept["mix"])})
    except (TypeError, KeyError, AttributeError, ValueError) as error:
        message = f"The plan that was in hand cannot be read ({error}); the page begins anew. Type what you want."
        raise ValueError(message) from error
    return found if found.mix > now else None


def _look(row: dict[str, Any]) -> Look:
    """Return a look as it was kept; before tops were asked for, none was said."""
    return Look(**{**row, "at": _at(row["at"]), "fed": _at(row["fed"]), "top": Top(row.get("top", ""))})


def _at(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)
