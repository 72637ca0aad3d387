"""The picture of published curves keeps measured and carried-on stretches apart."""

from __future__ import annotations

from fallow.charts.curves import CARRIED_ON, MEASURED, curves_chart, rates_of
from fallow.maths.rates import PUBLISHED_CURVES


def test_every_curve_is_whole_outside_and_inside_what_was_measured() -> None:
    temps = [float(t) for t in range(47)]
    rows = rates_of(PUBLISHED_CURVES, temps)
    assert rows.groupby("curve").size().tolist() == [47, 47, 47]
    for curve in PUBLISHED_CURVES:
        mine = rows[rows["curve"] == curve.name]
        low, high = curve.measured_c
        assert mine.loc[~mine["extrapolated"], "temp_c"].between(low, high).all()
        assert mine["extrapolated"].any()
    spec = curves_chart(rows).to_dict()
    assert spec["encoding"]["strokeDash"]["scale"]["domain"] == [MEASURED, CARRIED_ON]
    assert spec["config"]["background"] == "#ffffff"
