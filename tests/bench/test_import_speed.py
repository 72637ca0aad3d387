"""How long `import fallow` takes beside `import numpy`, each in a fresh Python: printed, never asserted."""

from __future__ import annotations

import statistics
import subprocess
import sys

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

# The child times its own import, so that the start of Python is in neither number.
TIMED = "import time; began = time.perf_counter(); import {}; print(time.perf_counter() - began)"
ROUNDS = 7


def imported(name: str) -> float:
    words = [sys.executable, "-c", TIMED.format(name)]
    return float(subprocess.run(words, capture_output=True, text=True, check=True, timeout=60).stdout)


def test_importing_fallow_beside_numpy(benchmark: BenchmarkFixture, capsys: pytest.CaptureFixture[str]) -> None:
    beside = statistics.median(imported("numpy") for _ in range(ROUNDS))
    alone: list[float] = []
    benchmark.pedantic(lambda: alone.append(imported("fallow")), rounds=ROUNDS, warmup_rounds=1)
    ours = statistics.median(alone[1:])
    with capsys.disabled():
        print(f"\nimport fallow {1000 * ours:.1f} ms, import numpy {1000 * beside:.0f} ms: 1/{beside / ours:.0f} of it")
    assert len(alone) == ROUNDS + 1
