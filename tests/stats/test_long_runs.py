"""A long run that was stopped goes on where it was, two cells at a time."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from fallow.stats.coverage import coverage
from fallow.stats.coverage_truths import TRUTHS

Cells = Callable[..., pd.DataFrame]


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """Keep this run's cells away from those of real ones."""
    return tmp_path


@pytest.mark.long
def test_finished_cells_are_kept_and_only_the_others_run_again(cells: Cells, root: Path) -> None:
    wanted = [{"truth": truth, "jars": 6, "simulations": 3, "seed": (1, n)} for n, truth in enumerate(TRUTHS[:3])]
    first = cells(coverage, wanted, "some")
    kept = sorted((root / ".pytest_cache" / "cells").glob("*.json"))
    assert len(kept) == 3
    untouched = {path: path.stat().st_mtime_ns for path in kept[1:]}
    kept[0].unlink()
    again = cells(coverage, wanted, "the rest")
    assert kept[0].exists()
    assert {path: path.stat().st_mtime_ns for path in kept[1:]} == untouched
    pd.testing.assert_frame_equal(first, again)
    alone = pd.concat([coverage(**cell) for cell in wanted], ignore_index=True)
    pd.testing.assert_frame_equal(again, alone, check_dtype=False)
