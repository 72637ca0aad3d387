"""The library's own fitter against certified regressions."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fallow.stats.least_squares import fit_curve

Reference = Callable[[str], dict[str, Any]]
CURVES = {
    "Rat42": lambda x: lambda p: p[0] / (1 + np.exp(p[1] - p[2] * x)),
    "BoxBOD": lambda x: lambda p: p[0] * (1 - np.exp(-p[1] * x)),
}


def columns(path: Path) -> np.ndarray:
    lines = path.read_text(encoding="latin-1").splitlines()
    first = max(n for n, line in enumerate(lines) if line.startswith("Data:")) + 1
    return np.array([line.split() for line in lines[first:] if line.strip()], dtype=float)


@pytest.mark.parametrize("name", ["Rat42", "BoxBOD"])
def test_certified_values_are_reached_from_either_certified_start(
    name: str, reference: Reference, shared_data: Callable[[str], Path]
) -> None:
    row = next(r for r in reference("nist_certified.json")["rows"] if r["id"] == name)
    y, x = columns(shared_data(row["in"]["data"])).T
    for start in row["in"]["starts"]:
        fit = fit_curve(CURVES[name](x), y, starts=[start], low=row["in"]["low"], high=row["in"]["high"])
        assert fit.estimates == pytest.approx(row["out"]["estimates"], rel=1e-6)
        assert fit.standard_errors == pytest.approx(row["out"]["standard_errors"], rel=1e-5)
        assert fit.rss == pytest.approx(row["out"]["rss"], rel=1e-8)
        assert not fit.at_limit


def test_an_estimate_pressed_against_its_limit_is_said() -> None:
    x = np.arange(5.0)
    assert fit_curve(lambda p: p[0] * x, 3 * x, starts=[(1.0,)], low=(0,), high=(2,)).at_limit


def test_what_the_data_do_not_tell_has_no_standard_error() -> None:
    x = np.arange(6.0)
    fit = fit_curve(lambda p: (p[0] + p[1]) * x, 2 * x, starts=[(0.3, 0.3)], low=(-9, -9), high=(9, 9))
    assert np.isnan(fit.standard_errors).all()
