"""Outcomes against three jars worked by hand, and on the invented trial against its own truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from fallow.records.experiment import Experiment
from fallow.records.package import RecoveryRule
from fallow.stats.cold import ColdFit, fit_cold
from fallow.stats.outcomes import by_feed, left_out, outcomes, what_moved
from fallow.stats.risk import risk_table

Made = Callable[..., Any]


@pytest.fixture(scope="module")
def rota_fit(harbour_rota: Experiment) -> ColdFit:
    return fit_cold(harbour_rota)


def three_jars(kitchen: Made) -> Experiment:
    """By hand: a owes 2, 1.2, 0 (back at feed 3); b owes 1.5, 0 (back at 2); c owes 4, 3, 2 (not yet after three)."""
    made = kitchen()
    made.jar("a", [2.0, 1.2, 0.0, 0.0], days=42)
    made.jar("b", [1.5, 0.0, 0.0], days=7)
    made.jar("c", [4.0, 3.0, 2.0], days=56)
    return made.trial


def test_three_jars_by_hand(kitchen: Made) -> None:
    table = outcomes(three_jars(kitchen)).set_index("jar")
    assert table["feeds_to_recovery"].tolist()[:2] == [3.0, 2.0]
    assert np.isnan(table.loc["c", "feeds_to_recovery"])
    assert table["feeds_observed"].tolist() == [3, 2, 3]
    assert table["recovered"].tolist() == [True, True, False]
    assert table["days_held"].tolist() == [42, 7, 56]
    assert table["hold_temp_c"].tolist() == [4, 4, 4]
    assert table["hours_between_feeds"].tolist() == [24, 24, 24]
    assert table["place_temp_c"].tolist() == [26, 26, 26]
    # 1:2:2 is a dilution of 5; its debts were put in by hand
    assert table["dilution"].tolist() == [5, 5, 5]
    assert table["owed_on_return_doublings"].tolist() == pytest.approx([2.0, 1.5, 4.0], abs=0.25)
    assert not table["undecided"].any()


def test_one_row_per_jar_and_feed_at_risk(kitchen: Made) -> None:
    trial = three_jars(kitchen)
    table = risk_table(outcomes(trial), by_feed=by_feed(trial)[["jar", "feed", "owed_doublings"]])
    assert table[["jar", "feed", "recovered"]].to_numpy().tolist() == [
        ["a", 1, 0], ["a", 2, 0], ["a", 3, 1], ["b", 1, 0], ["b", 2, 1], ["c", 1, 0], ["c", 2, 0], ["c", 3, 0],
    ]  # fmt: skip
    assert table["owed_doublings"].notna().all()


def test_each_jar_says_why(kitchen: Made) -> None:
    table = outcomes(three_jars(kitchen)).set_index("jar")
    assert table.loc["a", "why"].startswith("recovered at feed 3: W ")
    assert "rise 100% of its own (limits 0.5 and 90%)" in table.loc["a", "why"]
    assert table.loc["c", "why"].startswith("not yet at feed 3, where looking ended: W 2.0 doublings, +3.3 h")


def test_a_low_rise_is_not_recovered(kitchen: Made) -> None:
    made = kitchen()
    made.jar("a", [0.0, 0.0], risen=[False, True])
    assert outcomes(made.trial)["feeds_to_recovery"].tolist() == [2.0]


def test_two_in_a_row_counts_the_first_and_a_run_cut_off_is_censored_before_it(kitchen: Made) -> None:
    made = kitchen()
    made.jar("a", [2.0, 0.0, 2.0, 0.0, 0.0])
    made.jar("b", [2.0, 2.0, 0.0])
    trial = made.trial
    one, two = outcomes(trial), outcomes(trial, rule=RecoveryRule(feeds_in_a_row=2))
    assert one["feeds_to_recovery"].tolist() == [2.0, 3.0]
    assert two["feeds_to_recovery"].fillna(-1).tolist() == [4.0, -1.0]
    assert two["feeds_observed"].tolist() == [4, 2]
    assert what_moved(one, two)["jar"].tolist() == ["a", "b"]


def test_a_jar_between_the_limits_is_undecided_and_its_tail_is_not_counted(kitchen: Made) -> None:
    made = kitchen(look_hours=1.0)
    made.jar("a", [2.0, 0.65])
    row = outcomes(made.trial).iloc[0]
    chance = by_feed(made.trial)["chance_owed_at_most"].iloc[1]
    assert 0.2 < chance < 0.5
    assert (row["recovered"], row["feeds_observed"]) == (False, 1)


def test_a_jar_whose_looks_go_on_undecided_is_not_said_to_be_looked_at_no_more(kitchen: Made) -> None:
    made = kitchen(look_hours=1.0)
    made.jar("a", [2.0, 0.65])
    assert outcomes(made.trial).loc[0, "why"].startswith("not yet at feed 1, undecided after that: W 2.0 doublings")


def test_a_jar_whose_first_feed_is_not_on_record_has_no_outcome(kitchen: Made) -> None:
    """Its feeds 2 and 3 alone: it was back at feed 3, or at the feed that nobody wrote down."""
    made = kitchen()
    made.jar("a", [2.0, 2.0, 0.0])
    for name in ("feeds", "feed_flours", "readings"):
        made.rows[name] = [row for row in made.rows[name] if (row["jar"], row["feed"]) != ("a", 1)]
    trial = made.trial
    assert outcomes(trial).empty
    assert "begin with feed 2" in left_out(trial).set_index("jar").loc["a", "why"]


def test_too_few_baselines_leave_a_jar_out_with_the_reason(kitchen: Made) -> None:
    made = kitchen(baselines=2)
    made.jar("a", [2.0, 0.0])
    assert outcomes(made.trial).empty
    assert "only differences in W" in left_out(made.trial).set_index("jar").loc["a", "why"]


def without_heights(made: Any, jar: str) -> Experiment:
    for look in made.rows["readings"]:
        if look["jar"] == jar:
            look.pop("height")
    return made.trial


def test_a_culture_whose_own_rise_nobody_measured_leaves_its_jars_out(kitchen: Made) -> None:
    """Their debts are told and what is nine tenths of the rise is not: they counted as not yet, each up to where it came back."""
    made = kitchen()
    made.jar("a", [2.0, 1.2, 0.0])
    made.jar("b", [2.0, 0.0])
    trial = without_heights(made, "home")
    assert outcomes(trial).empty
    assert by_feed(trial).empty
    out = left_out(trial).set_index("jar")["why"]
    assert out[["a", "b"]].str.startswith("its culture's own rise is not on record").all()
    assert out["home"] == "no recovery feed on record"


@pytest.mark.parametrize("jar", ["home", "a"])
def test_a_rule_that_wants_no_rise_asks_for_no_height(kitchen: Made, jar: str) -> None:
    made = kitchen()
    made.jar("a", [2.0, 1.2, 0.0])
    trial, debt_alone = without_heights(made, jar), RecoveryRule(rise_at_least_fraction=0.0)
    row = outcomes(trial, rule=debt_alone).iloc[0]
    assert (row["feeds_to_recovery"], row["undecided"]) == (3.0, False)
    assert left_out(trial, rule=debt_alone)["jar"].tolist() == ["home"]


def test_broken_and_withdrawn_jars_are_left_out_and_said(harbour_rota: Experiment, rota_fit: ColdFit) -> None:
    out = left_out(harbour_rota, fit=rota_fit).set_index("jar")["why"]
    assert out["J034"] == "withdrawn: glass cracked after feed 2"
    assert out["fulmar-home"] == "no recovery feed on record"
    assert len(outcomes(harbour_rota, fit=rota_fit)) == 111


def test_the_invented_trial_is_what_its_readme_says(harbour_rota: Experiment, rota_fit: ColdFit) -> None:
    table = outcomes(harbour_rota, fit=rota_fit)
    assert 0.05 <= 1 - table["recovered"].mean() <= 0.12
    assert 2.5 <= table["feeds_to_recovery"].mean() <= 3.5
    slower = table.assign(feeds=table["feeds_to_recovery"].fillna(table["feeds_observed"] + 1)).groupby("fed")["feeds"]
    assert slower.mean()["by the clock"] > slower.mean()["at the peak"]
    assert set(by_feed(harbour_rota, fit=rota_fit)["verdict"]) == {"recovered", "not yet", "undecided"}


def test_nothing_recorded_gives_no_rows(kitchen: Made) -> None:
    assert outcomes(kitchen(baselines=0).trial).empty


def test_a_fit_for_another_limit_than_the_rule_s_is_refused(harbour_rota: Experiment, rota_fit: ColdFit) -> None:
    """Sixty-five jars had another outcome by the same rule, with the fit given or made: its chances were those of 0.5."""
    rule = RecoveryRule(owed_at_most_doublings=1.0)
    for derive in (outcomes, by_feed):
        with pytest.raises(ValueError, match=r"at most 0.5 doublings, and the rule asks for 1; .* limit_doublings=1\)"):
            derive(harbour_rota, rule=rule, fit=rota_fit)


def test_a_fit_goes_by_the_experiment_s_own_rule(kitchen: Made) -> None:
    made = kitchen()
    made.jar("a", [0.8, 0.0])
    file = made.trial.folder / "datapackage.json"
    told = json.loads(file.read_text(encoding="utf-8"))
    told["rule_of_recovery"]["owed_at_most_doublings"] = 1.0
    file.write_text(json.dumps(told), encoding="utf-8")
    trial = Experiment.open(made.trial.folder)
    fit = fit_cold(trial)
    assert fit.limit_doublings == 1.0
    assert outcomes(trial, fit=fit)["feeds_to_recovery"].tolist() == [1.0]
