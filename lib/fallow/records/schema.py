"""The one schema of a record: every table, column, unit and rule; files, checks and the data package come from it."""

from __future__ import annotations

from dataclasses import dataclass, field

SCHEMA_VERSION = 1

TEXT, NUMBER, INTEGER, TIME = "string", "number", "integer", "datetime"


@dataclass(frozen=True, kw_only=True)
class Column:
    """One column: its Table Schema type, its unit, what it must be, and in plain words what it holds."""

    name: str
    holds: str
    type: str = TEXT
    unit: str = ""
    required: bool = False
    above: float | None = None
    minimum: float | None = None
    maximum: float | None = None
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Link:
    """Columns that must stand as a key in another table."""

    columns: tuple[str, ...]
    table: str


@dataclass(frozen=True, kw_only=True)
class Table:
    """One CSV file of the record: its columns in order, its key, and the tables its rows belong to."""

    name: str
    holds: str
    columns: tuple[Column, ...]
    key: tuple[str, ...]
    links: tuple[Link, ...] = ()
    own_columns: bool = False
    optional: bool = False
    by_name: dict[str, Column] = field(init=False, repr=False, compare=False, hash=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "by_name", {column.name: column for column in self.columns})

    @property
    def file(self) -> str:
        """The file's name in the experiment's folder."""
        return f"{self.name}.csv"

    @property
    def names(self) -> tuple[str, ...]:
        """The columns' names in order."""
        return tuple(self.by_name)


# Ranges are our choice: wide enough for any kitchen, narrow enough to catch Fahrenheit and a slipped decimal point.
_COLDEST_C, _HOTTEST_C, _WARMEST_HOLD_C = -30.0, 60.0, 30.0


def _grams(name: str, holds: str, *, required: bool = False) -> Column:
    return Column(name=name, holds=holds, type=NUMBER, unit="g", above=0.0, required=required)


def _celsius(name: str, holds: str, *, required: bool = False, hottest_c: float = _HOTTEST_C) -> Column:
    return Column(
        name=name, holds=holds, type=NUMBER, unit="°C", required=required, minimum=_COLDEST_C, maximum=hottest_c
    )


def _key(name: str, holds: str) -> Column:
    return Column(name=name, holds=holds, required=True)


def _time(name: str, holds: str, *, required: bool = False) -> Column:
    return Column(name=name, holds=holds, type=TIME, required=required)


_WITHDRAWN = Column(name="withdrawn", holds="why the row no longer counts; empty while it does")
_NOTE = Column(name="note", holds="anything worth saying")
_FEED = Column(name="feed", holds="number of the feed: 0 is the last before the cold", type=INTEGER, required=True)


def _with_interval(name: str, holds: str, unit: str) -> tuple[Column, ...]:
    words = {"": holds, "_low": f"{holds}: low end", "_high": f"{holds}: high end"}
    return tuple(
        Column(name=name + end, holds=text, type=NUMBER, unit=unit, minimum=0.0) for end, text in words.items()
    )


CULTURES = Table(
    name="cultures",
    holds="one row per culture: what it lives on and what is known of its clock",
    key=("culture",),
    columns=(
        _key("culture", "name of the culture"),
        Column(name="flour", holds="flour it is kept on"),
        Column(
            name="hydration_fraction",
            holds="water over flour it is kept at",
            type=NUMBER,
            unit="g/g",
            above=0.0,
            maximum=5.0,
        ),
        *_with_interval("pace", "its growth rate over the published one", "1"),
        *_with_interval("ripening_doublings", "from grown back to visibly at its peak", "doublings"),
        *_with_interval("rise_ratio", "its own baseline rise, peak over start height", "1"),
        _NOTE,
    ),
)

JARS = Table(
    name="jars",
    holds="one row per jar, the unit of every comparison",
    key=("jar",),
    links=(Link(columns=("culture",), table="cultures"),),
    columns=(
        _key("jar", "name of the jar"),
        _key("culture", "culture in it"),
        Column(name="block", holds="day or batch it was worked with"),
        Column(name="position", holds="place in the block's random order", type=INTEGER, minimum=1),
        Column(name="treatment", holds="what was done to it"),
        _time("put_away_at", "when it went into the cold"),
        _time("out_at", "when it came out"),
        Column(name="hold_place", holds="where it was held"),
        _celsius("hold_temp_c", "temperature of the hold", hottest_c=_WARMEST_HOLD_C),
        Column(name="height_unit", holds="unit of its readings", choices=("mm", "ml", "px")),
        Column(name="status", holds="how it stands", choices=("planned", "running", "done", "broken", "lost")),
        _WITHDRAWN,
        _NOTE,
    ),
)

FEEDS = Table(
    name="feeds",
    holds="one row per feed of a jar, in grams; grams nobody wrote down are empty",
    key=("jar", "feed"),
    links=(Link(columns=("jar",), table="jars"),),
    columns=(
        _key("jar", "the jar fed"),
        _FEED,
        Column(
            name="kind",
            holds="baseline (in form), last (before the cold, feed 0), recovery (1, 2, ...), dilution",
            choices=("baseline", "last", "recovery", "dilution"),
        ),
        _time("at", "when it was mixed", required=True),
        _grams("seed_g", "old starter in it"),
        _grams("water_g", "new water"),
        _celsius("water_temp_c", "temperature of the water"),
        Column(name="place", holds="where it stood"),
        _celsius("place_temp_c", "temperature of the place"),
        _WITHDRAWN,
        _NOTE,
    ),
)

FEED_FLOURS = Table(
    name="feed_flours",
    holds="one row per flour of a feed",
    key=("jar", "feed", "flour"),
    links=(Link(columns=("jar", "feed"), table="feeds"),),
    columns=(
        _key("jar", "the jar fed"),
        _FEED,
        _key("flour", "name of the flour"),
        _grams("grams", "new flour", required=True),
    ),
)

READINGS = Table(
    name="readings",
    holds="one row per look at a jar",
    key=("jar", "feed", "at"),
    links=(Link(columns=("jar", "feed"), table="feeds"),),
    columns=(
        _key("jar", "the jar looked at"),
        _FEED,
        _time("at", "when it was looked at", required=True),
        Column(name="height", holds="height in the jar's height_unit", type=NUMBER, unit="height_unit", minimum=0.0),
        Column(
            name="streak_height",
            holds="height of the streak on the glass",
            type=NUMBER,
            unit="height_unit",
            minimum=0.0,
        ),
        Column(name="dome", holds="shape of the top", choices=("domed", "flat", "fallen")),
        Column(name="bubbles", holds="what the bubbles look like"),
        Column(name="smell", holds="what it smells of"),
        Column(name="ph", holds="pH", type=NUMBER, unit="pH", minimum=1.0, maximum=9.0),
        Column(name="tta_ml", holds="0.1 M sodium hydroxide used", type=NUMBER, unit="ml", minimum=0.0),
        Column(name="tta_endpoint_ph", holds="end point", type=NUMBER, unit="pH", minimum=6.0, maximum=10.0),
        _grams("tta_sample_g", "sample titrated"),
        _celsius("temp_c", "temperature in the jar"),
        _WITHDRAWN,
        _NOTE,
    ),
)

TEMPERATURES = Table(
    name="temperatures",
    holds="one row per temperature of a place",
    key=("place", "at"),
    columns=(
        _key("place", "place measured"),
        _time("at", "when", required=True),
        _celsius("temp_c", "temperature", required=True),
        _WITHDRAWN,
    ),
)

PLAN = Table(
    name="plan",
    holds="the plan, made before the trial with its seed and never edited after",
    key=("jar",),
    own_columns=True,
    optional=True,
    columns=(
        _key("jar", "name of the jar"),
        Column(name="block", holds="day or batch"),
        Column(name="position", holds="place in the block's random order", type=INTEGER, minimum=1),
        Column(name="treatment", holds="what it is to get"),
    ),
)

TABLES = (CULTURES, JARS, FEEDS, FEED_FLOURS, READINGS, TEMPERATURES, PLAN)
BY_NAME = {table.name: table for table in TABLES}

# Trade names a jar of flour carries in many kitchens (common practice, no source); an experiment may declare its own.
KNOWN_FLOURS = (
    "white", "bread", "plain", "strong", "wholemeal", "whole_wheat", "half_white", "rye", "white_rye", "medium_rye",
    "whole_rye", "spelt", "white_spelt", "whole_spelt", "einkorn", "emmer", "durum", "semolina", "khorasan", "barley",
    "oat", "buckwheat", "rice", "maize", "millet", "sorghum", "teff", "malted",
)  # fmt: skip
