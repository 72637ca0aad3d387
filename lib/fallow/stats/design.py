"""Who goes where: a trial's plan in randomised blocks, the same on every machine, and the two ways to plan a storage trial."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd


def plan_trial(*, treatments: Sequence[str], blocks: int = 4, seed: int = 7) -> pd.DataFrame:
    """Return a plan in randomised blocks: every treatment once in every block (a day, a batch), in an order of chance.

    Within a block the jars stand in the order of SHA-256("seed/block/number"), so that the plan is the same on every
    platform and version. A treatment named twice gets two jars a block. The jar's name says its block and position only.
    Raises ValueError for fewer than two treatments, an empty name, or no block.
    Source: randomised complete blocks, Fisher 1935, The Design of Experiments (memory); the hash is our choice.

    Returns
    -------
    DataFrame: jar, block, position (in its block, from 1), treatment.

    >>> plan = plan_trial(treatments=["white", "a third rye"], blocks=3)
    >>> plan["jar"].tolist()
    ['1-1', '1-2', '2-1', '2-2', '3-1', '3-2']
    >>> sorted(plan.groupby("treatment").size())
    [3, 3]
    """
    names = [str(name).strip() for name in treatments]
    if len(names) < 2 or not all(names):
        message = (
            f"treatments is {list(treatments)}; a comparison needs two names or more. Name what is done to each jar."
        )
        raise ValueError(message)
    if blocks < 1 or blocks != int(blocks):
        message = f"blocks is {blocks:g}; a plan needs a whole number of them, one at least. Try 4 days."
        raise ValueError(message)
    rows = []
    for block in range(1, int(blocks) + 1):
        order = sorted(range(len(names)), key=lambda number, block=block: _hash(seed, block, number))  # type: ignore[misc]
        rows += [(f"{block}-{at}", block, at, names[number]) for at, number in enumerate(order, start=1)]
    return pd.DataFrame(rows, columns=["jar", "block", "position", "treatment"])


def _hash(seed: int, block: int, number: int) -> bytes:
    return hashlib.sha256(f"{seed}/{block}/{number}".encode()).digest()


@dataclass(frozen=True, kw_only=True)
class StoragePlan:
    """A plan for holds of several lengths: its table, and in one sentence what it cannot tell apart."""

    table: pd.DataFrame
    confounds: str


def put_away_together(*, days_held: Sequence[int], on: date, blocks: int = 4, seed: int = 7) -> StoragePlan:
    """Plan a storage trial of one put-away day: jars go in together and come back on different days.

    >>> put_away_together(days_held=[7, 21], on=date(2026, 12, 1)).table["out_on"].unique().tolist()
    [datetime.date(2026, 12, 8), datetime.date(2026, 12, 22)]
    """
    table = _storage(days_held, blocks, seed)
    out = [on + timedelta(days=int(days)) for days in table["days_held"]]
    confounds = "Jars held longer also meet another recovery day: flour, kitchen and hand of that day go with the length of the hold."
    return StoragePlan(table=table.assign(put_away_on=on, out_on=out), confounds=confounds)


def bring_back_together(*, days_held: Sequence[int], on: date, blocks: int = 4, seed: int = 7) -> StoragePlan:
    """Plan the reversed storage trial: jars go in on different days and all come back on one, so that they are fed alike.

    >>> bring_back_together(days_held=[7, 21], on=date(2026, 12, 24)).table["put_away_on"].unique().tolist()
    [datetime.date(2026, 12, 17), datetime.date(2026, 12, 3)]
    """
    table = _storage(days_held, blocks, seed)
    put_away = [on - timedelta(days=int(days)) for days in table["days_held"]]
    confounds = "Jars held longer also come from another batch: the culture's form on its put-away day goes with the length of the hold."
    return StoragePlan(table=table.assign(put_away_on=put_away, out_on=on), confounds=confounds)


def _storage(days_held: Sequence[int], blocks: int, seed: int) -> pd.DataFrame:
    wrong = [days for days in days_held if days < 0 or days != int(days)]
    if wrong:
        message = f"days_held holds {wrong[0]:g}; a hold is a whole number of days, 0 or more. Try 7, 21, 42."
        raise ValueError(message)
    table = plan_trial(treatments=[f"{int(days)} days" for days in days_held], blocks=blocks, seed=seed)
    return table.assign(days_held=table["treatment"].str.removesuffix(" days").astype(int))
