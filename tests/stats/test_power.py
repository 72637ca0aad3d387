"""Power against exact enumeration, the closed form, a larger independent simulation, and the asymptotic formula."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.stats import chi2, ncx2

from fallow.stats.power import likelihood_ratio, recovery_power
from fallow.stats.recovery import fit_recovery

Reference = Callable[[str], dict[str, Any]]


def test_the_table_of_a_larger_simulation_is_met(reference: Reference) -> None:
    for row in reference("power_two_arms.json")["rows"]:
        found = recovery_power(**row["in"], simulations=4000)
        assert found.chance == pytest.approx(row["out"], abs=4 * max(found.se, 0.004)), row["id"]


def one_arm(hazard: float, jars: int, most: int) -> dict[tuple[int, int], float]:
    """Give the exact chances of (recoveries, feeds at risk) by adding one jar after the other."""
    jar = {(1, k): hazard * (1 - hazard) ** (k - 1) for k in range(1, most + 1)} | {(0, most): (1 - hazard) ** most}
    # recovered at the last feed and never recovered are different pairs, so none is lost in the union
    whole = {(0, 0): 1.0}
    for _ in range(jars):
        after: dict[tuple[int, int], float] = {}
        for (e, n), p in whole.items():
            for (de, dn), q in jar.items():
                after[e + de, n + dn] = after.get((e + de, n + dn), 0.0) + p * q
        whole = after
    return whole


@pytest.mark.parametrize(("control", "treated", "jars"), [(4.0, 2.0, 3), (3.0, 3.0, 3), (5.0, 1.5, 6)])
def test_every_possible_trial_counted(control: float, treated: float, jars: int) -> None:
    first, second = (one_arm(1 / mean, jars, 6) for mean in (control, treated))
    e0, n0 = np.array(list(first), dtype=float).T
    e1, n1 = np.array(list(second), dtype=float).T
    ratio = likelihood_ratio((e0[:, None], n0[:, None]), (e1[None, :], n1[None, :]))
    weight = np.outer(list(first.values()), list(second.values()))
    exact = float(weight[ratio > chi2.ppf(0.95, 1)].sum())
    assert weight.sum() == pytest.approx(1.0)
    given = {"mean_feeds_control": control, "mean_feeds_treated": treated, "jars_per_arm": jars, "max_feeds": 6}
    found = recovery_power(**given, simulations=20_000)
    assert found.chance == pytest.approx(exact, abs=4 * found.se)


def test_many_jars_have_the_power_of_the_noncentral_chi_squared() -> None:
    """Wald's noncentrality: the difference of ln hazards squared over its variance from the expected information."""
    hazards, jars, most = (0.25, 0.32), 300, 10
    variance, eta = 0.0, []
    for h in hazards:
        at_risk = jars * (1 - (1 - h) ** most) / h
        total = -np.log1p(-h)
        eta.append(np.log(total))
        variance += 1 / (at_risk * total**2 * (1 - h) / h)
    shift = (eta[1] - eta[0]) ** 2 / variance
    wanted = ncx2.sf(chi2.ppf(0.95, 1), 1, shift)
    found = recovery_power(mean_feeds_control=4, mean_feeds_treated=1 / 0.32, jars_per_arm=jars, simulations=8000)
    assert 0.5 < wanted < 0.95
    assert found.chance == pytest.approx(wanted, abs=0.02)


def test_the_ratio_is_that_of_the_model_that_will_be_fitted() -> None:
    rng = np.random.default_rng(3)
    rows = []
    for arm, hazard in enumerate((0.3, 0.5)):
        for jar in range(12):
            feeds = min(int(rng.geometric(hazard)), 8)
            rows += [(f"{arm}-{jar}", k, arm, int(k == feeds < 8)) for k in range(1, feeds + 1)]
    table = pd.DataFrame(rows, columns=["jar", "feed", "treated", "recovered"])
    counts = table.groupby("treated")["recovered"].agg(["sum", "size"]).to_numpy()
    ours = float(likelihood_ratio(tuple(counts[0]), tuple(counts[1])))
    full, none = (fit_recovery(table, formula, jeffreys=False).loglike for formula in ("treated", "1"))
    assert ours == pytest.approx(2 * (full - none), abs=1e-9)


def test_the_same_seed_gives_the_same_answer_and_nonsense_is_refused() -> None:
    given = {"mean_feeds_control": 4, "mean_feeds_treated": 2, "jars_per_arm": 10}
    assert recovery_power(**given, seed=5) == recovery_power(**given, seed=5)
    assert recovery_power(**given | {"mean_feeds_treated": 1}).chance > 0.9
    with pytest.raises(ValueError, match=r"mean_feeds_control is 0\.5; recovery takes one feed at least"):
        recovery_power(**given | {"mean_feeds_control": 0.5})
    with pytest.raises(ValueError, match="jars_per_arm is 0; it must be a whole number"):
        recovery_power(**given | {"jars_per_arm": 0})
