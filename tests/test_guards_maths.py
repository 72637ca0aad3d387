"""What the ground floor promises: light, units in names, and every formula with its source and an example."""

from __future__ import annotations

import ast
import dataclasses
import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import fallow.maths

ROOT = Path(__file__).resolve().parent.parent
MODULES = [found.name for found in pkgutil.iter_modules(fallow.maths.__path__, "fallow.maths.")]
HEAVY = {"pandas", "altair", "statsmodels", "ipywidgets", "anywidget", "matplotlib", "IPython"}
# No files, no clock, no tables: what a formula needs and nothing else.
STANDS_ON = {"fallow", "numpy", "scipy"} | {
    *("__future__", "collections", "dataclasses", "enum", "functools", "itertools", "math", "re", "reprlib", "typing")
}
UNITS = (
    *("_c", "_g", "_g_per_l", "_ml", "_mm", "_cm2", "_kpa", "_ph", "_log10_cfu", "_percent", "_fraction"),
    *("_hours", "_days", "_between", "_per_hour", "_per_day", "_doublings", "_efolds"),
    *("_mmol", "_mmol_per_kg", "_mmol_per_l", "_g_per_mol", "_kj_per_kg_k", "_kj_per_mol", "_w_per_m2_k"),
)
WHOLE_UNITS = {unit[1:] for unit in UNITS} | {"grams"}
# Numbers without a unit, and those whose unit is the caller's own; each for its reason.
PLAIN = {
    "dilution": "grams over grams, the trade's own number",
    "pace": "a culture's speed over the published curve's",
    "chance": "of one",
    "ripe_chance": "of one",
    "lab_pace": "as pace, for the acid bacteria",
    "share": "of one",
    "shape": "the exponent of a curve",
    "power": "an exponent",
    "powers": "exponents",
    "n": "an exponent's name in the literature",
    "q10": "rate over rate, ten degrees apart",
    "pka": "as pH, a logarithm",
    "biot": "Biot's number",
    "slope": "Ratkowsky's b, per square root of an hour and degree",
    "hot_slope": "Ratkowsky's c, per degree",
    "molar": "mol per litre by its name",
    "feeds": "a count",
    "earned": "doublings, by the law's own name",
    "earned_until_return": "doublings, by the law's own name",
    "least_seed_divisions": "a count of a scale's divisions",
    "co2_per_sugar": "mol over mol",
    "per_nitrogen": "grams over grams",
    "rise_factor": "height over height",
    "owed_relative_sd": "of the mean",
    "made": "acid, in the unit of the answer",
    "rise": "any additive scale, as Zwietering's forms allow",
    "start": "the natural logarithm of an amount",
    "ceiling": "the natural logarithm of an amount",
    "start_amount": "any unit of amount",
    "ceiling_amount": "any unit of amount",
    "a": "a published form's own letter",
    "b": "a published form's own letter",
    "c": "a published form's own letter",
}
# Names of the general cardinal form, which takes any scale (degrees, pH), and of helpers that take any number.
ANY_SCALE = {
    "value",
    "values",
    "low",
    "high",
    "lowest",
    "highest",
    "optimum",
    "best",
    "middle",
    "sd",
    "percent",
    "tolerance",
}
# Parts of the exact integral and checks of arguments: no page calls them and they hold no formula of anybody's.
PLUMBING = {f"fallow.maths.{name}" for name in ("arguments", "cuts", "pieces", "earnings", "draws")}
# The same formula without its checks, for curves whose numbers were checked when they were made.
UNCHECKED = {"share_of_best"}
FORMULAS = [name for name in MODULES if name not in PLUMBING]
SOURCE = re.compile(
    r"\b(18|19|20)\d\d\b|derived|definition|our choice|common practice|design law|science\.md|source: ",
    re.IGNORECASE,
)


def own(module: str) -> Iterator[tuple[str, object]]:
    """Walk what a module itself defines for others."""
    loaded = importlib.import_module(module)
    for name, thing in vars(loaded).items():
        if not name.startswith("_") and getattr(thing, "__module__", None) == module:
            yield name, thing


def functions(module: str) -> Iterator[tuple[str, object]]:
    """Walk a module's public functions and methods."""
    for name, thing in own(module):
        if inspect.isfunction(thing):
            yield name, thing
        elif inspect.isclass(thing):
            for part, method in vars(thing).items():
                bare = getattr(method, "__func__", method)
                if not part.startswith("_") and inspect.isfunction(bare):
                    yield f"{name}.{part}", bare


def formulas(module: str) -> Iterator[tuple[str, str]]:
    """Walk a module's public functions and what each says of itself."""
    for name, thing in own(module):
        if inspect.isfunction(thing) and name not in UNCHECKED:
            yield name, thing.__doc__ or ""


def numbers(module: str) -> Iterator[tuple[str, str]]:
    """Walk every number that is asked for by name: parameters of functions, fields of dataclasses."""
    for name, function in functions(module):
        for asked in inspect.signature(function).parameters.values():
            if re.fullmatch(r"(float|Number|Array)( \| None)?", str(asked.annotation)):
                yield f"{name}({asked.name})", asked.name
    for name, thing in own(module):
        if dataclasses.is_dataclass(thing):
            for kept in dataclasses.fields(thing):
                if kept.type in ("float", "Number", "Array"):
                    yield f"{name}.{kept.name}", kept.name


@pytest.mark.parametrize("module", MODULES)
def test_numbers_carry_their_unit_in_their_name(module):
    known = WHOLE_UNITS | set(PLAIN) | ANY_SCALE
    bare = [where for where, name in numbers(module) if not name.endswith(UNITS) and name not in known]
    assert bare == [], "give the unit as a suffix, or the reason for none in PLAIN"


def test_the_list_of_plain_numbers_holds_nothing_unused():
    used = {name for module in MODULES for _, name in numbers(module)}
    assert set(PLAIN) <= used | {"chance"}


@pytest.mark.parametrize("module", FORMULAS)
def test_arguments_of_formulas_are_given_by_name(module):
    bare = []
    for name, function in functions(module):
        asked = [p for p in inspect.signature(function).parameters.values() if p.name not in ("self", "cls", "name")]
        positional = [p.name for p in asked if p.kind in (p.POSITIONAL_ONLY, p.POSITIONAL_OR_KEYWORD)]
        if len(positional) > 1 and name not in UNCHECKED:
            bare.append(f"{name}: {positional}")
    assert bare == []


@pytest.mark.parametrize("module", FORMULAS)
def test_every_formula_has_an_example(module):
    assert [name for name, told in formulas(module) if ">>>" not in told] == []


@pytest.mark.parametrize("module", FORMULAS)
def test_every_formula_says_where_it_comes_from(module):
    above = importlib.import_module(module).__doc__ or ""
    bare = [name for name, told in formulas(module) if not SOURCE.search(told + above)]
    assert bare == [], "name a source, or say derived / our choice / common practice, no source"


@pytest.mark.parametrize("module", MODULES)
def test_everything_public_says_what_it_is(module):
    bare = [name for name, thing in [*own(module), *functions(module)] if callable(thing) and not thing.__doc__]
    assert bare == []


@pytest.mark.parametrize("module", MODULES)
def test_it_stands_on_numpy_and_scipy_alone(module):
    path = ROOT / "lib" / Path(*module.split(".")).with_suffix(".py")
    tree = ast.parse(path.read_text(encoding="utf-8"))
    named = [alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names]
    named += [node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)]
    assert {name.split(".")[0] for name in named} <= STANDS_ON


def test_each_module_loads_light_and_silent():
    # One child for all, each module's load looked at in turn: the heavy ones would stay loaded and be seen.
    script = "import importlib, sys\n" + "".join(f"importlib.import_module({name!r})\n" for name in MODULES)
    script += f"print(sorted({HEAVY!r} & set(sys.modules)))"
    done = subprocess.run([sys.executable, "-W", "error", "-c", script], capture_output=True, text=True, check=False)
    assert (done.stdout.strip(), done.stderr) == ("[]", "")
