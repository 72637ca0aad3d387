"""What the invented trial's README says was found is what the library finds."""

from __future__ import annotations

from pathlib import Path

import pytest

from fallow.records.demo_truth import Truth
from fallow.records.experiment import Experiment
from fallow.stats.carried import by_rye
from fallow.stats.cold import ColdFit, fit_cold
from fallow.stats.cold_trend import cold_trend
from fallow.stats.ledger_record import ledger_of_record
from fallow.stats.outcomes import by_feed, outcomes


@pytest.fixture(scope="module")
def fit(harbour_rota: Experiment) -> ColdFit:
    return fit_cold(harbour_rota)


@pytest.fixture(scope="module")
def found(root: Path) -> str:
    readme = (root / "experiments" / "harbour-rota" / "README.md").read_text(encoding="utf-8")
    return " ".join(readme.split("## What was found")[1].split())


def test_how_many_recovered_and_when(harbour_rota: Experiment, fit: ColdFit, found: str) -> None:
    table = outcomes(harbour_rota, fit=fit)
    back = table["recovered"]
    counts = table["feeds_to_recovery"].value_counts().sort_index().astype(int)
    first, *later = [f"{jars} at {feed:.0f}" for feed, jars in counts.items()]
    assert f"Of {len(table)} jars (one broke) {back.sum()} recovered" in found
    assert f"and {(~back).sum()} ({1 - back.mean():.0%}".replace("%", " %") in found
    assert first == "1 at 1"
    assert "1 jar at feed 1, " + ", ".join(later) in found
    assert f"{table['feeds_to_recovery'].mean():.1f} in the mean" in found
    assert f"In {table['undecided'].sum()} jars" in found
    feeds = by_feed(harbour_rota, fit=fit)["verdict"]
    assert f"of {len(feeds)} feeds {(feeds == 'undecided').sum()} are undecided" in found


def test_clock_and_carried_share(fit: ColdFit, found: str) -> None:
    for row in fit.cultures.itertuples():
        pace = f"{row.culture} {row.pace:.2f} ({row.pace_low:.2f} to {row.pace_high:.2f})"
        ripening = f"{row.ripening_doublings:.1f} ({row.ripening_low:.1f} to {row.ripening_high:.1f})"
        assert f"{pace} and {ripening}" in found
    for rye, words in ((False, "on white"), (True, "with a third of rye")):
        low, middle, high = by_rye(fit)[rye].interval
        assert f"{middle:.2f} ({low:.2f} to {high:.2f}) {words}" in found


def test_the_cold_and_the_ledger(harbour_rota: Experiment, fit: ColdFit, found: str) -> None:
    for row in cold_trend(harbour_rota, fit=fit).per_day.itertuples():
        assert f"{row.per_day:.3f} ({row.low:.3f} to {row.high:.3f}) at {row.hold_temp_c:g} °C" in found
        assert f"{Truth().decay_per_day(temp_c=row.hold_temp_c):.3f}" in found
        assert f"{row.prior:.3f}" in found
    by_two = outcomes(harbour_rota, fit=fit)["feeds_to_recovery"].le(2).mean()
    alone = ledger_of_record(harbour_rota, fit=fit).iloc[1]
    carried = ledger_of_record(harbour_rota, fit=fit, carried=by_rye(fit)).iloc[1]
    assert f"{100 * alone.chance:.0f} % of the jars ready by feed 2; {100 * by_two:.0f} % were" in found
    assert f"{100 * carried.chance:.0f} % ({100 * carried.low:.0f} to {100 * carried.high:.0f} %)" in found
