"""datapackage.json: what an experiment says of itself, written from the one schema and read back."""

from __future__ import annotations

import json
import re
import zoneinfo
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import fallow
from fallow.records.problems import Problem, cut, shown
from fallow.records.schema import FEEDS, NUMBER, PLAN, SCHEMA_VERSION, TABLES, TEXT, Column, Table

FILE = "datapackage.json"
DATA_LICENCE = "CC0-1.0"
_PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
# Our choice: a rule beyond these asks for nothing, or for more than a trial can show.
RULE_RANGES = {"owed_at_most_doublings": (0.0, 5.0), "rise_at_least_fraction": (0.0, 1.5), "feeds_in_a_row": (1, 3)}


def experiments_in(folder: Path) -> list[str]:
    """Return the names of the experiment folders in a folder, sound or not, in order; none when the folder is not there."""
    return sorted(found.parent.name for found in folder.glob(f"*/{FILE}"))


@dataclass(frozen=True, kw_only=True)
class RecoveryRule:
    """When a jar counts as recovered, written down before the data (design law, our choice).

    Recovered at feed k: at most ``owed_at_most_doublings`` owed there, and a rise of at least
    ``rise_at_least_fraction`` of the culture's own baseline rise, in ``feeds_in_a_row`` feeds. Raises ValueError outside
    ``RULE_RANGES``.
    """

    owed_at_most_doublings: float = 0.5
    rise_at_least_fraction: float = 0.9
    feeds_in_a_row: int = 1

    def __post_init__(self) -> None:
        for name, (low, high) in RULE_RANGES.items():
            value = getattr(self, name)
            if not low <= value <= high:
                message = f"{name} is {value:g}; it must be from {low:g} to {high:g}. The usual rule has {getattr(type(self), name):g}."
                raise ValueError(message)


@dataclass(frozen=True, kw_only=True)
class Package:
    """What datapackage.json says beside the tables."""

    title: str
    question: str
    name: str
    created: str
    time_zone: str = "UTC"
    licence: str = DATA_LICENCE
    rule: RecoveryRule = field(default_factory=RecoveryRule)
    flours: Mapping[str, str] = field(default_factory=dict, hash=False)
    invented: bool = False
    truth: Mapping[str, Any] = field(default_factory=dict, hash=False)
    sources: Sequence[Mapping[str, str]] = ()
    schema_version: int = SCHEMA_VERSION
    library_version: str = fallow.__version__
    plan_columns: tuple[Column, ...] | None = None


UNKNOWN = Package(title="", question="", name="", created="")


def slug(title: str) -> str:
    """Return a title as a data package's name: lower case, digits, hyphens.

    >>> slug("Two weeks at 4 °C: rye or white?")
    'two-weeks-at-4-c-rye-or-white'
    """
    return re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-") or "experiment"


def checked_time_zone(name: str) -> str:
    """Return an IANA time zone's name, or refuse it."""
    if name not in zoneinfo.available_timezones():
        message = f"time_zone is {shown(name)}; it must be an IANA name. Write it as in 'Europe/Berlin' or 'America/New_York'."
        raise ValueError(message)
    return name


def flour_fault(name: str) -> str:
    """Return the rule a flour's name breaks, or nothing.

    >>> flour_fault("t65"), flour_fault("water")
    ('', "water_g is a column of feeds already, so no flour may be called 'water'")
    """
    if not re.fullmatch(r"[a-z][a-z0-9_]*", name):
        return "a flour's name must be of small letters, digits and _, so that it can stand in a formula"
    if f"{name}_g" in FEEDS.by_name or name == "flour":
        return f"{cut(name)}_g is a column of feeds already, so no flour may be called {shown(name)}"
    return ""


def checked_flour(name: str) -> str:
    """Return a flour's name, or refuse it."""
    if fault := flour_fault(name):
        message = f"flour is {shown(name)}; {fault}. Choose another name, as in 't65' or 'red_wheat'."
        raise ValueError(message)
    return name


def write_package(package: Package) -> bytes:
    """Return the bytes of datapackage.json: Data Package 2.0 with a Table Schema per table."""
    tables = [table for table in TABLES if not (table.optional and package.plan_columns is None)]
    descriptor: dict[str, Any] = {
        "$schema": _PROFILE,
        "name": package.name,
        "title": package.title,
        "description": package.question,
        "created": package.created,
        "licenses": [{"name": package.licence}],
        "sources": [dict(source) for source in package.sources],
        "time_zone": package.time_zone,
        "rule_of_recovery": asdict(package.rule),
        "flours": dict(package.flours),
        "invented": package.invented,
        "truth": dict(package.truth),
        "fallow": {"schema_version": package.schema_version, "library_version": package.library_version},
        "resources": [_resource(table, package.plan_columns or ()) for table in tables],
    }
    if not package.invented:
        del descriptor["invented"], descriptor["truth"]
    if not package.sources:
        del descriptor["sources"]
    return (json.dumps(descriptor, indent=2, ensure_ascii=False) + "\n").encode("utf-8")


def _resource(table: Table, own: Sequence[Column]) -> dict[str, Any]:
    columns = (*table.columns, *(own if table is PLAN else ()))
    schema: dict[str, Any] = {
        "fields": [_field(column) for column in columns],
        "missingValues": [""],
        "primaryKey": list(table.key),
    }
    if table.links:
        schema["foreignKeys"] = [
            {"fields": list(link.columns), "reference": {"resource": link.table, "fields": list(link.columns)}}
            for link in table.links
        ]
    return {
        "name": table.name,
        "type": "table",
        "path": table.file,
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "description": table.holds,
        "schema": schema,
    }


def _field(column: Column) -> dict[str, Any]:
    described: dict[str, Any] = {"name": column.name, "type": column.type, "description": column.holds}
    if column.unit:
        described["unit"] = column.unit
    constraints: dict[str, Any] = {
        "required": column.required or None,
        "exclusiveMinimum": column.above,
        "minimum": column.minimum,
        "maximum": column.maximum,
        "enum": list(column.choices) or None,
    }
    given = {name: value for name, value in constraints.items() if value is not None}
    return described | ({"constraints": given} if given else {})


def read_package(data: bytes) -> tuple[Package, list[Problem]]:
    """Return what datapackage.json says, and its problems; what cannot be read keeps its default."""
    try:
        found = json.loads(data.decode("utf-8-sig"))
        if not isinstance(found, dict):
            raise TypeError
    except (ValueError, TypeError, RecursionError) as error:
        rule = f"it is not a JSON object in UTF-8 ({error})" if str(error) else "it is not a JSON object"
        return UNKNOWN, [Problem(file=FILE, rule=rule, next_step="Bring back the file the library wrote.")]
    return _package_of(found)


def _package_of(found: Mapping[str, Any]) -> tuple[Package, list[Problem]]:
    problems: list[Problem] = []

    def of(holder: Mapping[str, Any], name: str, kind: type | tuple[type, ...], default: Any) -> Any:
        value = holder.get(name, default)
        if isinstance(value, kind) and not (isinstance(value, bool) and kind is not bool):
            return value
        rule = f"it must be {_kind_words(kind)}"
        step = "Bring back the file the library wrote."
        problems.append(Problem(file=FILE, column=name, value=str(value), rule=rule, next_step=step))
        return default

    made = of(found, "fallow", dict, {})
    licences = of(found, "licenses", list, [])
    package = Package(
        title=of(found, "title", str, ""),
        question=of(found, "description", str, ""),
        name=of(found, "name", str, ""),
        created=of(found, "created", str, ""),
        time_zone=of(found, "time_zone", str, "UTC"),
        licence=str(licences[0].get("name", "")) if licences and isinstance(licences[0], dict) else "",
        rule=_rule(of(found, "rule_of_recovery", dict, {}), of, problems),
        flours={str(flour): str(holds) for flour, holds in of(found, "flours", dict, {}).items()},
        invented=of(found, "invented", bool, False),
        truth=of(found, "truth", dict, {}),
        sources=tuple(source for source in of(found, "sources", list, []) if isinstance(source, dict)),
        schema_version=of(made, "schema_version", int, 0),
        library_version=of(made, "library_version", str, ""),
    )
    package = replace(package, plan_columns=_plan_columns(of(found, "resources", list, [])))
    return package, problems + _said_wrong(package)


def _kind_words(kind: type | tuple[type, ...]) -> str:
    words = {str: "a text", dict: "an object", list: "a list", bool: "true or false", int: "a whole number"}
    return words.get(kind, "a number") if isinstance(kind, type) else "a number"


def _rule(given: Mapping[str, Any], of: Any, problems: list[Problem]) -> RecoveryRule:
    usual = RecoveryRule()
    said = {
        "owed_at_most_doublings": float(
            of(given, "owed_at_most_doublings", (int, float), usual.owed_at_most_doublings)
        ),
        "rise_at_least_fraction": float(
            of(given, "rise_at_least_fraction", (int, float), usual.rise_at_least_fraction)
        ),
        "feeds_in_a_row": of(given, "feeds_in_a_row", int, usual.feeds_in_a_row),
    }
    for name, (low, high) in RULE_RANGES.items():
        if not low <= said[name] <= high:
            rule, step = (
                f"it must be from {low:g} to {high:g}",
                "Correct it in datapackage.json, under rule_of_recovery.",
            )
            problems.append(Problem(file=FILE, column=name, value=f"{said[name]:g}", rule=rule, next_step=step))
            said[name] = getattr(usual, name)
    return RecoveryRule(**said)


def _plan_columns(resources: Sequence[Any]) -> tuple[Column, ...] | None:
    for resource in resources:
        if isinstance(resource, dict) and resource.get("name") == PLAN.name:
            schema = resource.get("schema")
            fields = schema.get("fields", []) if isinstance(schema, dict) else []
            own = [one for one in fields if isinstance(one, dict) and str(one.get("name")) not in PLAN.by_name]
            return tuple(
                Column(
                    name=str(one.get("name")), holds=str(one.get("description", "")),
                    type=NUMBER if one.get("type") == NUMBER else TEXT, unit=str(one.get("unit", "")),
                )
                for one in own
            )  # fmt: skip
    return None


def _said_wrong(package: Package) -> list[Problem]:
    problems = []
    if package.time_zone not in zoneinfo.available_timezones():
        rule = "it must be an IANA time zone"
        step = "Write it as in 'Europe/Berlin' or 'America/New_York'."
        problems.append(Problem(file=FILE, column="time_zone", value=package.time_zone, rule=rule, next_step=step))
    for name in package.flours:
        if flour_fault(name):
            step = "Rename it in datapackage.json and in feed_flours.csv."
            problems.append(Problem(file=FILE, column="flours", value=name, rule=flour_fault(name), next_step=step))
    if package.schema_version > SCHEMA_VERSION:
        rule = f"this Fallow ({fallow.__version__}) reads records up to version {SCHEMA_VERSION}"
        step = f"Open it with Fallow {package.library_version or 'of a later version'} or newer; nothing was changed."
        value = str(package.schema_version)
        problems.append(Problem(file=FILE, column="schema_version", value=value, rule=rule, next_step=step))
    if package.schema_version < SCHEMA_VERSION:
        rule = f"this Fallow ({fallow.__version__}) keeps records of version {SCHEMA_VERSION}"
        forward = "Bring the folder forward with fallow.records.migrate.migrate; the old one is kept beside it."
        step = forward if package.schema_version > 0 else "Bring back the file the library wrote."
        value = str(package.schema_version)
        problems.append(Problem(file=FILE, column="schema_version", value=value, rule=rule, next_step=step))
    return problems
