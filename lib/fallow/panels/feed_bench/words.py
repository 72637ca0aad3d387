"""The tables and cautions below the bench's answer."""

from __future__ import annotations

import pandas as pd

from fallow.maths.defaults import DEFAULTS
from fallow.maths.feeds import Feed
from fallow.maths.gas import STARTER_G_PER_ML, closed_jar_gauge_kpa, gas_behind_rise
from fallow.panels.feed_bench.setting import Setting
from fallow.records.said_number import amount

MOVES_NO_CLOCK = (
    "Flour and hydration change grams and rise, not these hours: no published number moves the clock by them."
)
OUR_CHOICE = (
    "Numbers of a culture nobody has measured (our choice): pace 1, 1.4 doublings from grown back to visibly ripe, "
    "places within 1 °C. Every interval holds 90 % of what that allows."
)
COLD = (
    "These hours cross the cold. Creep: growth creeps on below the coldest temperature that was measured. "
    "Stop: it stops where the author saw none. Nobody knows which holds in your fridge."
)
OWED = (
    "Owed from the cold: a first step and a daily loss, both of brewing yeast (a prior, not a fact), for a seed chilled "
    "ripe. Nobody has published how a starter's own debt grows: a trial of yours can say."
)
WARM = (
    f"Above {DEFAULTS.warn_above_c:g} °C: improvised warmth can run away. Put a thermometer beside the jar, "
    "look often, and follow your local food-safety rules."
)
LID = (
    "Leave the lid loose: a feeding culture makes gas, and a closed jar can burst. "
    "Raw flour is raw food: do not taste it."
)


def recipe(feed: Feed) -> pd.DataFrame:
    """Return the feed in grams and in baker's percentages of the new flour.

    >>> recipe(Feed(seed_g=20, water_g=60, flours_g={"bread flour": 80, "rye flour": 20}))["baker's %"].tolist()
    ['80', '20', '60', '20', '180']
    """
    parts = {**feed.flours_g, "water": feed.water_g, "seed": feed.seed_g, "in all": feed.total_g}
    rows = [(name, f"{grams:.0f}", f"{100 * grams / feed.flour_g:.0f}") for name, grams in parts.items()]
    return pd.DataFrame(rows, columns=["what goes in", "grams", "baker's %"])


def ratio_text(feed: Feed) -> str:
    """Return the ratio and what it dilutes, in one line."""
    return (
        f"Ratio {feed.ratio} (starter:flour:water); it dilutes the starter {feed.dilution:.1f} times, "
        f"which costs {feed.doublings:.2f} doublings."
    )


def cautions(setting: Setting) -> list[str]:
    """Return the sentences that hold for this setting."""
    said = [MOVES_NO_CLOCK]
    if setting.held_days > 0:
        said.append(f"{setting.owed_doublings:.1f} doublings owed. {OWED}")
    if setting.yeast.crosses_cold:
        said.append(COLD)
    if setting.hottest_c > DEFAULTS.warn_above_c:
        said.append(WARM)
    if setting.lid_closed:
        said.append(closed_lid(setting.feed))
    return [*said, LID, OUR_CHOICE]


def closed_lid(feed: Feed) -> str:
    """Return the caution for a closed lid: the pressure if the gas of one doubling in height stayed in a jar half full.

    Source: ideal gas and Henry's law (``fallow.maths.gas``); the doubling and the half full jar are our choice.
    """
    gas = gas_behind_rise(
        starter_g=feed.total_g, rise_factor=2.0, hydration_fraction=feed.hydration_fraction, temp_c=26.0
    )
    kpa = closed_jar_gauge_kpa(
        co2_mmol=gas.co2_mmol_per_kg * feed.total_g / 1000,
        headspace_ml=feed.total_g / STARTER_G_PER_ML,
        water_ml=feed.water_g,
        temp_c=26.0,
    )
    return (
        f"A closed lid: the gas of one doubling in height alone would press about {float(kpa):.0f} kPa on a jar half full, "
        "and it does not stop there. Open it now, over a cloth, and leave it loose."
    )


def side_by_side(pinned: dict[str, Setting]) -> pd.DataFrame:
    """Return pinned settings as columns, one row a number."""
    rows = {
        "grams": lambda s: f"{s.seed_g:.0f} seed, {s.feed.flour_g:.0f} flour, {s.water_g:.0f} water",
        "ratio": lambda s: s.feed.ratio,
        "rye of the new flour": lambda s: f"{100 * s.rye_g / s.feed.flour_g:.0f} %",
        "seed": lambda s: f"{amount(s.held_days, 'day')} at {s.held_c:g} °C" if s.held_days > 0 else "in form",
        "places": lambda s: s.given(cold=s.yeast.cold).place,
        "ripe": lambda s: s.interval_text(s.yeast),
        "sour clock": lambda s: s.interval_text(s.sour),
        "story of the cold": lambda s: s.yeast.cold.word if s.yeast.crosses_cold else "none crossed",
    }
    table = {"": list(rows)} | {name: [row(one) for row in rows.values()] for name, one in pinned.items()}
    return pd.DataFrame(table)
