"""What is assumed of a culture nobody has measured, in one place, each with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass

OUR_CHOICE = "our choice, until the culture's own feeds replace it"


@dataclass(frozen=True, kw_only=True)
class Spread:
    """A number that is not known: its middle, its standard deviation, and who says so."""

    middle: float
    sd: float
    source: str = OUR_CHOICE


@dataclass(frozen=True, kw_only=True)
class Defaults:
    """Every default of the workbook; ``source`` says 'our choice' where nothing is published."""

    ripening_doublings: Spread
    lab_ripening_doublings: Spread
    pace: Spread
    place_offset_c: Spread
    owed_relative_sd: float
    cold_step: Spread
    hottest_water_c: float
    least_seed_divisions: float
    transfer_loss_g: float
    warn_above_c: float
    refuse_above_c: float
    source: str


DEFAULTS = Defaults(
    ripening_doublings=Spread(
        middle=1.4, sd=0.35, source="our choice: a 1:1:1 feed at 26 °C peaks at 5 h (common practice, no source)"
    ),
    lab_ripening_doublings=Spread(middle=1.4, sd=0.7, source="our choice; no number is published"),
    pace=Spread(middle=1.0, sd=0.12),
    place_offset_c=Spread(middle=0.0, sd=0.608, source="our choice: ±1 °C, read as a 90 % interval"),
    owed_relative_sd=0.5,
    cold_step=Spread(middle=0.7, sd=0.0, source="our choice: the lag of a chilled culture, natural log"),
    hottest_water_c=35.0,
    least_seed_divisions=10.0,
    transfer_loss_g=5.0,
    warn_above_c=28.0,
    refuse_above_c=30.0,
    source="our choice where no other source stands beside the number",
)
