"""A sum of named columns, read and never evaluated: ``C(feed) + rye_fraction``."""

from __future__ import annotations

import ast
import warnings
from dataclasses import dataclass
from typing import NoReturn

CALLS = ("C", "np.log1p", "np.log", "standardize")
LONGEST = 500
_NEXT = "Write a sum of columns such as C(feed) + rye_fraction + np.log1p(days_held)."


@dataclass(frozen=True)
class Factor:
    """One column of a formula, bare (``call`` empty) or inside one of the four allowed calls."""

    column: str
    call: str = ""

    def __str__(self) -> str:
        return f"{self.call}({self.column})" if self.call else self.column


@dataclass(frozen=True)
class Formula:
    """A sum of terms; each term is one factor, or several joined by a colon (their product).

    The rules are those of the model formulas of R and patsy, narrowed to sums: ``+``, ``:``, ``0 +`` (no intercept)
    and the calls C (free by level), np.log1p, np.log, standardize.
    """

    terms: tuple[tuple[Factor, ...], ...]
    intercept: bool = True

    def __str__(self) -> str:
        start = [] if self.intercept else ["0"]
        terms = [":".join(str(factor) for factor in term) for term in self.terms]
        return " + ".join([*start, *terms]) or "1"

    @property
    def columns(self) -> tuple[str, ...]:
        """The table columns the formula needs, each once, in the order they are first named."""
        return tuple(dict.fromkeys(factor.column for term in self.terms for factor in term))


def read_formula(text: str) -> Formula:
    """Read the right-hand side of a model formula without evaluating any of it.

    Raises ValueError with one sentence for anything but sums and colons of columns and the four allowed calls.

    >>> read_formula("C(feed) + rye_fraction").columns
    ('feed', 'rye_fraction')
    >>> read_formula("C(feed) + open(secret)")  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ValueError: The formula has 'open(secret)'; only C, np.log1p, np.log, standardize may be called, ...
    """
    terms: dict[frozenset[Factor], tuple[Factor, ...]] = {}
    intercept = True
    for node in _summands(_parse(text)):
        if isinstance(node, ast.Constant) and type(node.value) is int and node.value in (0, 1):
            intercept = bool(node.value)
            continue
        term = tuple(_factor(part) for part in _product(node))
        terms.setdefault(frozenset(term), term)
    if not terms and not intercept:
        _refuse(repr(text), "it has neither a column nor a level")
    return Formula(tuple(terms.values()), intercept)


def _parse(text: str) -> ast.expr:
    if not isinstance(text, str) or not text.strip():
        _refuse(repr(text), "a formula is a text naming at least one column or 1")
    if len(text) > LONGEST:
        _refuse(f"{len(text)} characters", f"at most {LONGEST} are read")
    if "@" in text:
        _refuse("'@'", "terms are joined by + and :")
    try:
        # A colon joins factors; '@' stands in for it only so that Python's own reader sees an expression.
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            return ast.parse(text.strip().replace(":", "@"), mode="eval").body
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        _refuse(repr(text), "it cannot be read as a sum of columns")


def _summands(node: ast.expr) -> list[ast.expr]:
    found: list[ast.expr] = []
    while isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        found.append(node.right)
        node = node.left
    return [node, *reversed(found)]


def _product(node: ast.expr) -> list[ast.expr]:
    found: list[ast.expr] = []
    while isinstance(node, ast.BinOp) and isinstance(node.op, ast.MatMult):
        found.append(node.right)
        node = node.left
    return [node, *reversed(found)]


def _factor(node: ast.expr) -> Factor:
    if isinstance(node, ast.Name):
        return Factor(node.id)
    shown = repr(ast.unparse(node).replace("@", ":")[:60])
    if not isinstance(node, ast.Call):
        _refuse(shown, "terms are columns joined by + and :")
    call = ast.unparse(node.func)
    if call not in CALLS or node.keywords or len(node.args) != 1 or not isinstance(node.args[0], ast.Name):
        _refuse(shown, f"only {', '.join(CALLS)} may be called, each on one column")
    return Factor(node.args[0].id, call)


def _refuse(seen: str, rule: str) -> NoReturn:
    message = f"The formula has {seen}; {rule}. {_NEXT}"
    raise ValueError(message)
