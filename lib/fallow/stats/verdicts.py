"""Feed by feed to one verdict per jar, and the sentence that says why."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pandas as pd

from fallow.records.package import RecoveryRule
from fallow.stats.rule import UNDECIDED_FROM, UNDECIDED_TO, met, undecided

WIDE_BELOW = -1.0
Counts = npt.NDArray[np.int64]
Flags = npt.NDArray[np.bool_]
VERDICT = ["jar", "feeds_to_recovery", "feeds_observed", "last_feed", "recovered", "undecided", "first_possible_feed"]
DECIDING = ["owed_doublings", "owed_low", "owed_high", "owed_hours", "chance_owed_at_most", "rise_share"]


def decided(feeds: pd.DataFrame, *, rule: RecoveryRule) -> pd.DataFrame:
    """Return one row per jar: when it recovered, how many feeds it was seen for, and what the deciding feed showed.

    With several feeds in a row the first of them counts; a run that the end cuts off is undecided, and the jar is censored
    at the feed before it (design law).
    """
    feeds = feeds.sort_values(["jar", "feed"], ignore_index=True)
    marked = feeds.assign(met=met(feeds, rule=rule), undecided=undecided(feeds, rule=rule))
    rows = [_verdict(str(jar), mine, rule) for jar, mine in marked.groupby("jar", sort=True)]
    return pd.DataFrame(rows, columns=[*VERDICT, *DECIDING]).astype(
        {"jar": "str", "recovered": bool, "undecided": bool}
    )


def _verdict(jar: str, mine: pd.DataFrame, rule: RecoveryRule) -> dict[str, object]:
    numbers, passed, doubtful = (mine[name].to_numpy() for name in ("feed", "met", "undecided"))
    run = _first_run(numbers, passed, rule.feeds_in_a_row)
    recovered = run is not None
    last = _last_decided(numbers, passed, doubtful, rule.feeds_in_a_row) if run is None else int(numbers[run])
    at_risk = numbers <= last
    shown = mine[at_risk].iloc[-1] if at_risk.any() else mine.iloc[0]
    possible = numbers[(passed | doubtful) & at_risk]
    return {
        "jar": jar,
        "feeds_to_recovery": float(last) if recovered else np.nan,
        "feeds_observed": last,
        "last_feed": int(numbers[-1]),
        "recovered": recovered,
        "undecided": bool(doubtful[at_risk][-1]) if at_risk.any() else True,
        "first_possible_feed": float(possible[0]) if len(possible) else np.nan,
        **{name: shown[name] for name in DECIDING},
    }


def _first_run(numbers: Counts, passed: Flags, in_a_row: int) -> int | None:
    """Return where the first run of feeds that all met the rule begins."""
    for start in range(len(numbers) - in_a_row + 1):
        here = slice(start, start + in_a_row)
        if passed[here].all() and numbers[here][-1] - numbers[start] == in_a_row - 1:
            return start
    return None


def _last_decided(numbers: Counts, passed: Flags, doubtful: Flags, in_a_row: int) -> int:
    """Return the last feed that surely belongs to the wait: no undecided tail, no run that the end cut off."""
    kept = len(numbers)
    while kept and (doubtful[kept - 1] or (in_a_row > 1 and passed[kept - 1])):
        kept -= 1
    return int(numbers[kept - 1]) if kept else int(numbers[0]) - 1


def _after(row: dict[str, object]) -> str:
    """Say what became of a jar after the last feed at which it surely was not back."""
    return "where looking ended" if row["last_feed"] == row["feeds_observed"] else "undecided after that"


def why(table: pd.DataFrame, *, rule: RecoveryRule) -> list[str]:
    """Return one sentence per jar: W as doublings and hours and the rise at the deciding feed, against the rule."""
    return [_sentence(row, rule) for row in table.to_dict("records")]


def _sentence(row: dict[str, object], rule: RecoveryRule) -> str:
    feed = f"feed {row['feeds_observed']}"
    limits = f"limits {rule.owed_at_most_doublings:g} and {rule.rise_at_least_fraction:.0%}"
    rise = float(str(row["rise_share"]))
    risen = f"rise {rise:.0%} of its own" if np.isfinite(rise) else "rise not seen"
    owed, hours, low = (float(str(row[name])) for name in ("owed_doublings", "owed_hours", "owed_low"))
    debt = (
        f"W {owed:.1f} doublings, {hours:+.1f} h"
        if np.isfinite(owed)
        else f"not yet at its peak, W above {low:.1f} doublings"
    )
    if np.isfinite(owed) and low < WIDE_BELOW:
        debt = f"peaked unseen, W at most {float(str(row['owed_high'])):.1f} doublings"
    chance = float(str(row["chance_owed_at_most"]))
    doubt = f", chance {chance:.0%}" if UNDECIDED_FROM < chance < UNDECIDED_TO else ""
    start = f"recovered at {feed}" if row["recovered"] else f"not yet at {feed}, {_after(row)}"
    if row["feeds_observed"] == 0:
        start = "undecided from the first feed"
    return f"{start}: {debt}{doubt}; {risen} ({limits})"
