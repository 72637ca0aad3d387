"""How often plans came true that claimed a chance: the copy of the kept long run that goes with the library."""

from __future__ import annotations

import json
from importlib import resources

import pandas as pd

# A copy of what tests/reference holds, for the tests do not go with the library; a test fails when the two differ.
COPY = "plan_calibration.json"


def track_record() -> pd.DataFrame:
    """Return the long run of random households, a row a kind of truth and a bin of claims; chances as shares.

    The first kind is the truth as it is believed; the others are off by what no plan was told. Columns: truth, low, high,
    households, seed, plans, claimed (mean), observed (share that came true), error (binomial, one standard error).
    """
    text = resources.files(__package__).joinpath(COPY).read_text(encoding="utf-8")
    return pd.DataFrame([{**row["in"], **row["out"]} for row in json.loads(text)["rows"]])


def came_true_table() -> pd.DataFrame:
    """Return the same for a page: a row a bin of claims, and of a hundred such plans how many came true in each kind of truth."""
    table = track_record()
    bins = table.drop_duplicates(["low", "high"])
    shown = {
        "plans that said, of 100": [
            f"{100 * low:.0f} to {100 * high:.0f}" for low, high in zip(bins["low"], bins["high"], strict=True)
        ],
        "how many": bins["plans"].to_list(),
        "said on average": _of_100(bins["claimed"]),
    }
    return pd.DataFrame(
        shown | {f"ready, {truth}": _of_100(rows["observed"]) for truth, rows in table.groupby("truth", sort=False)}
    )


def came_true_text() -> str:
    """Return what the table rests on, and what it says where plans were told the truth."""
    table = track_record()
    told = table[table["truth"] == table["truth"].iloc[0]]
    farthest = ((told["observed"] - told["claimed"]).abs() / told["error"]).max()
    return (
        f"{told['households'].iloc[0]:,} made-up households, each with one culture drawn at random: {told['plans'].sum():,} of "
        "their plans claimed a chance of a half or more. Where the culture was as a plan believes cultures to be, what came "
        f"true lies within {farthest:.1f} standard errors of what was said. In the other columns pace or places were off by "
        "what no plan was told. No real jar is in it: save your plans, and yours are counted."
    )


def _of_100(shares: pd.Series) -> list[str]:
    return [f"{100 * share:.0f}" for share in shares]
