"""How often plans came true that claimed a chance: the kept long run, as a table a page can show."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd

NAMES = {
    "truth": "the cultures' truth",
    "claim": "plans that said",
    "plans": "how many",
    "claimed": "said on average",
    "observed": "came true",
    "error": "error of that share",
}


def track_record(path: Path) -> pd.DataFrame:
    """Return the kept run of random households, a row a kind of truth and a bin of claims: chances as shares.

    The first kind is the truth as it is believed; the others are off by what no plan was told. Columns: truth, claim,
    plans, claimed, observed, error (binomial, one standard error).
    """
    rows = json.loads(Path(path).read_text(encoding="utf-8"))["rows"]
    table = pd.DataFrame([{**row["in"], **row["out"]} for row in rows])
    claims = [f"{low:.0%} to {high:.0%}" for low, high in zip(table["low"], table["high"], strict=True)]
    return table.assign(claim=claims)[list(NAMES)]


def track_record_markdown(path: Path) -> str:
    """Return the same as a Markdown table in plain words, for a page."""
    lines = ["| " + " | ".join(NAMES.values()) + " |", "| --- | --- | ---: | ---: | ---: | ---: |"]
    for row in track_record(path).to_dict("records"):
        shares = " | ".join(f"{row[name]:.1%}" for name in ("claimed", "observed", "error"))
        lines.append(f"| {row['truth']} | {row['claim']} | {row['plans']:g} | {shares} |")
    return "\n".join(lines)
