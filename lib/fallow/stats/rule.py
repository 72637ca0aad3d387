"""The rule of recovery, written in the experiment before its data, applied feed by feed."""

from __future__ import annotations

import pandas as pd

from fallow.records.package import RecoveryRule

# Between these chances a feed is undecided (design law); called recovered from one half on: likelier than not.
UNDECIDED_FROM, UNDECIDED_TO, CALLED_FROM = 0.2, 0.8, 0.5


def met(feeds: pd.DataFrame, *, rule: RecoveryRule) -> pd.Series:
    """Say of each feed whether W is likelier than not at most the rule's limit, and the rise enough; no rise is wanted at a share of 0."""
    risen = feeds["rise_share"] >= rule.rise_at_least_fraction
    return (feeds["chance_owed_at_most"] >= CALLED_FROM) & (risen | (not wants_rise(rule)))


def wants_rise(rule: RecoveryRule) -> bool:
    """Say whether the rule looks at the rise at all.

    >>> wants_rise(RecoveryRule()), wants_rise(RecoveryRule(rise_at_least_fraction=0.0))
    (True, False)
    """
    return rule.rise_at_least_fraction > 0


def undecided(feeds: pd.DataFrame, *, rule: RecoveryRule) -> pd.Series:
    """Say of each feed whether its looks leave open if it met the rule."""
    chance = feeds["chance_owed_at_most"]
    open_debt = chance.isna() | ((chance > UNDECIDED_FROM) & (chance < UNDECIDED_TO))
    if not wants_rise(rule):
        return open_debt
    too_low = feeds["rise_is_whole"] & (feeds["rise_share"] < rule.rise_at_least_fraction)
    open_rise = feeds["rise_share"].isna() & ~(chance <= UNDECIDED_FROM)
    return (open_debt | open_rise) & ~too_low
