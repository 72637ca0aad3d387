"""From readings to outcomes: at which feed each jar was back in form by the experiment's own rule, or that it was not yet."""

from __future__ import annotations

import numpy as np
import pandas as pd

from fallow.records.experiment import Experiment
from fallow.records.package import RecoveryRule
from fallow.stats.cold import ENOUGH_BASELINES, ColdFit, fit_cold
from fallow.stats.rule import met, undecided, wants_rise
from fallow.stats.verdicts import decided, why

NO_RISE = "its culture's own rise is not on record: a baseline feed needs its height at the start and at its top"
COVARIATES = ["rye_fraction", "place_temp_c", "dilution", "hours_to_next"]


def outcomes(experiment: Experiment, *, rule: RecoveryRule | None = None, fit: ColdFit | None = None) -> pd.DataFrame:
    """Return one row per jar: feeds to recovery, or how many feeds it was seen for without.

    Recovered at feed k: W measured there is likelier than not at most the rule's limit, and the rise at least its share of
    the culture's own (design law). A feed whose chance lies between 0.2 and 0.8 is undecided: it does not count as
    recovered below one half, and ``first_possible_feed`` says where recovery might have come already. Feeds after the last
    decided one are not counted as seen. Broken, lost and withdrawn jars are left out, and those whose culture's own rise nobody
    measured (``left_out``). Raises ValueError when ``fit`` holds chances of another debt than the rule's.

    Returns
    -------
    DataFrame: jar, feeds_to_recovery (NaN while not), feeds_observed, recovered, undecided (the deciding feed is),
    first_possible_feed, days_held, hold_temp_c, culture, block, rye_fraction, place_temp_c, dilution (of feed 1),
    hours_between_feeds, owed_on_return_doublings, owed_on_return_low and _high (feed 1), and of the deciding feed
    owed_doublings, owed_low, owed_high, owed_hours, chance_owed_at_most, rise_share; why; then the plan's own columns.
    """
    rule = rule or experiment.rule
    fit = _by_the_rule(fit, rule) if fit else fit_cold(experiment, limit_doublings=rule.owed_at_most_doublings)
    jars = experiment.jars
    jars = jars[~jars["jar"].isin(_left_out_of(experiment, fit, rule)["jar"])].reset_index(drop=True)
    verdicts = decided(fit.feeds[fit.feeds["jar"].isin(jars["jar"])], rule=rule)
    table = jars[["jar"]].merge(verdicts, on="jar")
    table = table.merge(_held(jars), on="jar").merge(_on_average(fit.feeds, verdicts), on="jar")
    table = table.merge(_at_return(fit.feeds), on="jar")
    table["why"] = why(table, rule=rule)
    return _with_plan(table.drop(columns="last_feed"), experiment)


def by_feed(experiment: Experiment, *, rule: RecoveryRule | None = None, fit: ColdFit | None = None) -> pd.DataFrame:
    """Return one row per recovery feed of the jars in ``outcomes``, with what differs between the feeds of one jar.

    Returns
    -------
    DataFrame: jar, feed, rye_fraction, place_temp_c, dilution, hours_to_next (inf after the last), low_hours, high_hours,
    owed_doublings, owed_low, owed_high, owed_hours, chance_owed_at_most, rise_share, verdict (recovered, not yet, undecided).
    """
    rule = rule or experiment.rule
    fit = _by_the_rule(fit, rule) if fit else fit_cold(experiment, limit_doublings=rule.owed_at_most_doublings)
    mine = fit.feeds[~fit.feeds["jar"].isin(_left_out_of(experiment, fit, rule)["jar"])].reset_index(drop=True)
    told = ["low_hours", "high_hours", "owed_doublings", "owed_low", "owed_high", "owed_hours", "chance_owed_at_most"]
    table = mine[["jar", "feed", *COVARIATES, *told, "rise_share"]]
    called = np.where(met(mine, rule=rule), "recovered", "not yet")
    verdict = np.where(undecided(mine, rule=rule), "undecided", called)
    return table.assign(verdict=verdict)


def _by_the_rule(fit: ColdFit, rule: RecoveryRule) -> ColdFit:
    limit, wanted = fit.limit_doublings, rule.owed_at_most_doublings
    if limit != wanted:
        message = (
            f"The fit has the chance of a debt of at most {limit:g} doublings, and the rule asks for {wanted:g}; one rule "
            f"goes through both. Fit again with fit_cold(experiment, limit_doublings={wanted:g})."
        )
        raise ValueError(message)
    return fit


def left_out(experiment: Experiment, *, rule: RecoveryRule | None = None, fit: ColdFit | None = None) -> pd.DataFrame:
    """Return the jars that have no outcome by the experiment's own rule or another, each with its reason."""
    return _left_out_of(experiment, fit or fit_cold(experiment), rule or experiment.rule)


def what_moved(before: pd.DataFrame, after: pd.DataFrame) -> pd.DataFrame:
    """Return the jars whose outcome differs between two tables of outcomes, as under two rules.

    >>> one = pd.DataFrame({"jar": ["a", "b"], "feeds_to_recovery": [2.0, 3.0], "feeds_observed": [2, 3]})
    >>> two = one.assign(feeds_to_recovery=[2.0, np.nan])
    >>> what_moved(one, two)[["jar", "before", "after"]].values.tolist()
    [['b', 3.0, nan]]
    """
    columns = ["jar", "feeds_to_recovery", "feeds_observed"]
    both = before[columns].merge(after[columns], on="jar", suffixes=("_before", "_after"))
    changed = both["feeds_to_recovery_before"].fillna(-1) != both["feeds_to_recovery_after"].fillna(-1)
    changed |= both["feeds_observed_before"].fillna(-1) != both["feeds_observed_after"].fillna(-1)
    return (
        both[changed]
        .rename(columns={"feeds_to_recovery_before": "before", "feeds_to_recovery_after": "after"})
        .reset_index(drop=True)
    )


def _left_out_of(experiment: Experiment, fit: ColdFit, rule: RecoveryRule) -> pd.DataFrame:
    jars = experiment.table("jars", withdrawn=True)
    withdrawn = jars["withdrawn"].astype("string").fillna("").str.strip()
    status = jars["status"].astype("string").fillna("")
    few = f"its culture has fewer than {ENOUGH_BASELINES} baseline feeds seen to their peak: only differences in W can be told"
    reason = pd.Series("", index=jars.index, dtype="object")
    reason[~jars["jar"].isin(fit.feeds["jar"]).to_numpy()] = "no recovery feed on record"
    begins = jars["jar"].map(fit.feeds.groupby("jar")["feed"].min())
    for number in begins[begins > 1].unique():
        reason[(begins == number).to_numpy()] = (
            f"its recovery feeds on record begin with feed {number:g}: it may have been back before. Number them from 1"
        )
    no_rise = fit.cultures.loc[~(fit.cultures["rise_fraction"] > 0), "culture"] if wants_rise(rule) else []
    reason[jars["culture"].isin(no_rise).to_numpy() & (reason == "").to_numpy()] = NO_RISE
    reason[jars["culture"].isin(fit.only_differences).to_numpy()] = few
    reason[status.isin(["broken", "lost"]).to_numpy()] = status
    reason[(withdrawn != "").to_numpy()] = "withdrawn: " + withdrawn
    return jars[["jar"]].assign(why=reason)[reason != ""].reset_index(drop=True)


def _held(jars: pd.DataFrame) -> pd.DataFrame:
    hours = (jars["out_at"] - jars["put_away_at"]).dt.total_seconds() / 3600
    return jars[["jar", "hold_temp_c", "culture", "block"]].assign(days_held=(hours / 24).round(2))


def _on_average(feeds: pd.DataFrame, verdicts: pd.DataFrame) -> pd.DataFrame:
    """Return each jar's covariates, averaged over the feeds at which it was at risk."""
    last = feeds["jar"].map(verdicts.set_index("jar")["feeds_observed"])
    at_risk = feeds[feeds["feed"] <= np.maximum(last, 1)].replace({"hours_to_next": {np.inf: np.nan}})
    means = at_risk.groupby("jar")[COVARIATES].mean().reset_index()
    means["dilution"] = means["jar"].map(at_risk.groupby("jar")["dilution"].first())
    means = means.rename(columns={"hours_to_next": "hours_between_feeds"})
    return means.round({"rye_fraction": 3, "place_temp_c": 1, "dilution": 2, "hours_between_feeds": 1})


def _at_return(feeds: pd.DataFrame) -> pd.DataFrame:
    first = feeds.sort_values(["jar", "feed"]).groupby("jar").head(1)
    names = {
        "owed_doublings": "owed_on_return_doublings",
        "owed_low": "owed_on_return_low",
        "owed_high": "owed_on_return_high",
    }
    return first[["jar", *names]].rename(columns=names)


def _with_plan(table: pd.DataFrame, experiment: Experiment) -> pd.DataFrame:
    """Join what the plan says of each jar in columns of its own, such as how it was to be fed."""
    plan = experiment.plan
    own = [name for name in plan if name not in table and name not in ("position", "treatment", "seed")]
    said = plan[["jar", *own]].assign(**{name: _numbers(plan[name]) for name in own})
    return table.merge(said, on="jar", how="left") if own else table


def _numbers(column: pd.Series) -> pd.Series:
    """Return a column of the plan as numbers where every one of its cells is one."""
    numbers = pd.to_numeric(column, errors="coerce")
    return column if (numbers.isna() & column.notna()).any() else numbers
