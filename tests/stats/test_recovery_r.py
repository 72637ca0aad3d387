"""Feeds to recovery from counts, live against R: glm, MASS, survival and brglm2."""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from fallow.stats.recovery import CLOGLOG, LOGIT, fit_recovery

Reference = Callable[[str], dict[str, Any]]
RunR = Callable[[str], str]


def invented(seed: int, rows: int = 160) -> pd.DataFrame:
    rng = np.random.default_rng(seed)
    table = pd.DataFrame(
        {"jar": np.arange(rows), "feed": rng.integers(1, 4, rows), "x": rng.normal(size=rows).round(2)}
    )
    chance = -np.expm1(-np.exp(-0.8 + 0.4 * np.log(table["feed"]) + 0.7 * table["x"]))
    return table.assign(recovered=(rng.random(rows) < chance).astype(int))


def in_r(table: pd.DataFrame) -> str:
    return f'd <- read.csv(text="{table.to_csv(index=False)}")\n'


@pytest.mark.parametrize("link", [CLOGLOG, LOGIT])
def test_random_data_through_rs_glm(link: Any, run_r: RunR) -> None:
    for seed in (1, 2, 3):
        table = invented(seed)
        script = f"""{in_r(table)}f <- glm(recovered ~ factor(feed) + x, binomial("{link.name}"), d,
          control=glm.control(epsilon=1e-14, maxit=100))
        cat(sprintf("%.12g", c(coef(f), summary(f)$coefficients[, 2], logLik(f))))"""
        theirs = [float(v) for v in run_r(script).split()]
        fit = fit_recovery(table, "C(feed) + x", jeffreys=False, link=link)
        assert fit.coefficients["estimate"].to_numpy() == pytest.approx(theirs[:4], abs=1e-7)
        assert fit.coefficients["se"].to_numpy() == pytest.approx(theirs[4:8], rel=1e-6)
        assert fit.loglike == pytest.approx(theirs[8], abs=1e-9)


def test_intervals_are_rs_profile_likelihood(run_r: RunR) -> None:
    """MASS's confint interpolates its profile by a spline (1e-3); uniroot on the deviance with an offset does not."""
    table = invented(4)
    script = f"""{in_r(table)}fam <- binomial("cloglog"); tight <- glm.control(epsilon=1e-14, maxit=100)
    f <- glm(recovered ~ factor(feed) + x, fam, d, control=tight)
    best <- deviance(f) + qchisq(0.9, 1)
    gap <- function(b) deviance(glm(recovered ~ factor(feed), fam, d, offset=b*d$x, control=tight)) - best
    b <- coef(f)["x"]
    cat(sprintf("%.10g", c(uniroot(gap, c(b-3, b), tol=1e-10)$root, uniroot(gap, c(b, b+3), tol=1e-10)$root)), "\\n")
    suppressMessages(cat(sprintf("%.10g", t(MASS:::confint.glm(f, level=0.9)))))"""
    exact, splined = ([float(v) for v in line.split()] for line in run_r(script).splitlines())
    ours = fit_recovery(table, "C(feed) + x", jeffreys=False).coefficients[["low", "high"]]
    assert ours.loc["x"].to_numpy() == pytest.approx(exact, abs=1e-6)
    assert ours.to_numpy().ravel() == pytest.approx(splined, abs=2e-3)


def test_gehans_remissions_grouped_by_week(run_r: RunR, reference: Reference) -> None:
    """The cloglog fit equals R's, lies near the exact Cox fit, and is not the same as it (ties are heavy)."""
    cox, grouped = (row for row in reference("hazard_gehan.json")["rows"])
    data = pd.read_csv(io.StringIO(run_r("write.csv(MASS::gehan, row.names=FALSE)")))
    weeks = np.sort(data["time"][data["cens"] == 1].unique())
    parts = []
    for jar, person in data.iterrows():
        at_risk = weeks[weeks <= person["time"]]
        event = ((at_risk == person["time"]) & (person["cens"] == 1)).astype(int)
        control = int(person["treat"] == "control")
        parts.append(pd.DataFrame({"jar": jar, "feed": at_risk, "recovered": event, "control": control}))
    table = pd.concat(parts, ignore_index=True)
    assert len(table) == grouped["in"]["rows"]
    for link in (CLOGLOG, LOGIT):
        fit = fit_recovery(table, "C(feed) + control", jeffreys=False, link=link)
        estimate, error, deviance = grouped["out"][link.name]
        assert fit.coefficients.loc["control", "estimate"] == pytest.approx(estimate, abs=1e-5)
        assert fit.coefficients.loc["control", "se"] == pytest.approx(error, abs=1e-5)
        assert -2 * fit.loglike == pytest.approx(deviance, abs=1e-4)
    cloglog = grouped["out"]["cloglog"][0]
    assert abs(cloglog - cox["out"]["exact"][0]) < 0.05
    survival = 'library(survival); f <- coxph(Surv(time, cens) ~ I(treat=="control"), MASS::gehan, ties="exact")'
    assert float(run_r(f'{survival}; cat(sprintf("%.8g", coef(f)))')) == pytest.approx(cox["out"]["exact"][0], abs=1e-5)


def test_firths_logit_on_the_endometrial_example(run_r: RunR, reference: Reference, needs_brglm2: None) -> None:
    """NV has no finite plain estimate; Firth's is that of brglm2 0.9 and of the published value."""
    out = reference("firth_endometrial.json")["rows"][0]["out"]
    data = pd.read_csv(
        io.StringIO(run_r("data(endometrial, package='brglm2'); write.csv(endometrial, row.names=FALSE)"))
    )
    table = data.rename(columns={"HG": "recovered"}).assign(jar=np.arange(len(data)))
    assert len(table) == 79
    fit = fit_recovery(table, "NV + PI + EH", jeffreys=True, link=LOGIT)
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(out["estimates"], abs=1e-5)
    errors = fit.coefficients["se"].to_numpy()[1:]
    assert errors == pytest.approx(out["standard_errors"][1:], abs=1e-5)
    plain = fit_recovery(table, "NV + PI + EH", jeffreys=False, link=LOGIT)
    assert "NV" not in plain.coefficients.index
    assert any("no finite estimate" in note for note in plain.notes)


def test_the_cloglog_penalty_is_brglm2s_jeffreys(run_r: RunR, needs_brglm2: None) -> None:
    table = invented(6, rows=25)
    script = f"""library(brglm2); {in_r(table)}f <- glm(recovered ~ factor(feed) + x, binomial("cloglog"), d,
      method="brglmFit", type="MPL_Jeffreys", epsilon=1e-11, maxit=5000, slowit=0.5)
    cat(sprintf("%.10g", coef(f)))"""
    theirs = [float(v) for v in run_r(script).split()]
    fit = fit_recovery(table, "C(feed) + x", jeffreys=True)
    assert fit.coefficients["estimate"].to_numpy() == pytest.approx(theirs, abs=1e-5)


@pytest.fixture
def needs_brglm2(run_r: RunR) -> None:
    if run_r("cat(requireNamespace('brglm2', quietly=TRUE))").strip() != "TRUE":
        skip_or_fail("R package brglm2")


def skip_or_fail(what: str) -> None:
    if os.environ.get("FALLOW_REQUIRE_ALL") == "1":
        pytest.fail(f"{what} is missing, and FALLOW_REQUIRE_ALL is set")
    pytest.skip(f"{what} is not on this machine")
