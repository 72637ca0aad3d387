"""The main page without a browser: what it says, what it takes for granted, and what it says of too little or none."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace

import pandas as pd
import pytest
from tests.panels.small import SMALL
from tests.stats.conftest import Kitchen

from fallow.charts.recovery import Recovery
from fallow.maths.cold import CREEP, STOP
from fallow.panels.feeds_to_recovery.asked import Asked
from fallow.panels.feeds_to_recovery.page import ALL_JARS, ALONE, FeedsToRecovery
from fallow.panels.feeds_to_recovery.reviewed import errors_said, review_parts
from fallow.panels.feeds_to_recovery.rules import moved_parts
from fallow.panels.feeds_to_recovery.sections import agreement_parts, rule_said
from fallow.panels.feeds_to_recovery.study import FEEDS, NOBODY, Study, at_risk, fed_on
from fallow.panels.feeds_to_recovery.terms import COLUMNS, in_words
from fallow.panels.feeds_to_recovery.words import about, nine_of_ten, notes, remarks, remarks_on_record, sentence
from fallow.records.demo_truth import Truth
from fallow.records.package import RecoveryRule, experiments_in
from fallow.stats.carried import by_rye
from fallow.stats.cold_trend import cold_trend
from fallow.stats.cultures import fit_cultures
from fallow.stats.ledger_forecast import ledger_ready_by
from fallow.stats.ledger_record import ledger_by_jar, ledger_of_record
from fallow.stats.owed_by_feed import owed_by_feed
from fallow.stats.recovery import fit_recovery, risk_table

ANSWER = r"about \d+ of 10 such jars by feed \d \(\d+ to \d+\); the ledger says \d+ \(\d+ to \d+\)\."
BACKSTAGE = re.compile(
    r"\b(days_held|hold_temp_c|rye_fraction|place_temp_c|hours_between_feeds|np\.log|C\(|nan|inf|None)\b"
)


@pytest.fixture(scope="module")
def page(root):
    return FeedsToRecovery(root / "experiments")


@pytest.fixture
def usual(page):
    """The page as it opens."""
    page.experiment.value = "harbour-rota"
    page.days.value, page.hold.value, page.rye.value, page.place.value, page.between.value = 21, 4, 0, 24, 12
    return page


def fold(page, title):
    return next(one for one in [*page.folds[:4], page.rules.fold, *page.folds[5:]] if title in one.title)


def unfolded(page, title):
    one = fold(page, title)
    one.unfolded = True
    return one.markup


def test_the_sentence_carries_its_intervals_in_at_most_thirty_words(usual):
    assert re.fullmatch(ANSWER.replace("about", "About"), usual.answer.text)
    for days, hold in ((120, 4), (21, 12), (21, 0), (120, 12)):
        usual.days.value, usual.hold.value = days, hold
        assert re.fullmatch(rf"A guess \([^)]+\): {ANSWER}", usual.answer.text)
        assert len(usual.answer.text.split()) <= 30


def test_a_guess_begins_past_one_and_a_half_times_the_longest_hold(usual):
    longest = float(usual.study.jars["days_held"].max())
    usual.days.value = int(1.5 * longest) - 1
    assert usual.asked().guesses(usual.study) == []
    usual.days.value = int(1.5 * longest) + 1
    assert usual.asked().guesses(usual.study)[0] == (
        "no jar on record was held so long",
        "The longest hold on record is 56 days.",
    )
    assert "This is a guess. The longest hold on record is 56 days." in usual.note.markup


@pytest.mark.parametrize(
    ("slider", "value", "why"),
    [
        ("hold", 1.5, "no fridge on record was so cold"),
        ("hold", 8.5, "no fridge on record was so warm"),
        ("place", 18, "no jar on record recovered so cold"),
        ("place", 29, "no jar on record recovered so warm"),
    ],
)
def test_temperatures_outside_the_record_make_it_a_guess(usual, slider, value, why):
    getattr(usual, slider).value = value
    assert f"A guess ({why})" in usual.answer.text


def test_what_the_page_says_is_what_the_fit_says(usual):
    direct = usual.study.fit.ready_by(usual.asked().row(), feeds=FEEDS)
    shown = pd.DataFrame(usual.chart.update["data"]["counts"])
    assert shown["chance"].tolist() == pytest.approx(direct["chance"].tolist(), abs=1e-4)
    assert len(usual.chart.update["data"]["jars"]) == len(usual.study.jars)


@pytest.mark.parametrize(("rye", "with_rye"), [(0, False), (33, True)])
def test_the_ledger_carries_the_share_that_these_jars_showed(usual, rye, with_rye):
    usual.rye.value = rye
    asked, study = usual.asked(), usual.study
    direct = ledger_ready_by(
        asked.schedule(study),
        feeds=FEEDS,
        believed=study.cold.believed[asked.culture],
        carried=by_rye(study.cold)[with_rye],
    )
    shown = pd.DataFrame(usual.chart.update["data"]["ledger"])
    assert shown["chance"].tolist() == pytest.approx(direct["chance"].tolist(), abs=1e-4)
    hopeful = ledger_ready_by(asked.schedule(study), feeds=FEEDS, believed=study.cold.believed[asked.culture])
    assert shown["chance"][1] < hopeful["chance"][1] - 0.2
    said = re.search(r"a ripe feed leaves (\d+) % \((\d+) % to (\d+) %\)", usual.note.markup)
    truth = Truth().carried_fraction_third_rye if with_rye else Truth().carried_fraction_white
    assert int(said[2]) - 2 <= 100 * truth <= int(said[3]) + 2
    flour = "with rye" if with_rye else "without rye"
    assert f"as the recorded jars {flour} showed" in usual.note.markup


def test_the_page_says_in_plain_words_what_the_ledger_takes_for_granted(usual):
    said = usual.note.markup
    assert "that the jar went into the cold ripe" in said
    assert "fed every 12 h" in said
    assert "a prior and not a fact about your culture" in said
    assert "creep" in said
    assert "do not taste it" in said


def test_one_press_shows_all_recorded_jars_on_their_own_schedules(usual):
    usual.turn.presses += 1
    study = usual.study
    ledger = ledger_of_record(study.experiment, fit=study.cold, feeds=FEEDS, carried=by_rye(study.cold))
    data = usual.chart.update["data"]
    assert [row["chance"] for row in data["ledger"]] == pytest.approx(ledger["chance"].tolist(), abs=1e-4)
    counts = fit_recovery(risk_table(study.jars), "C(feed)").ready_by(study.jars.iloc[[0]], feeds=FEEDS)
    assert [row["chance"] for row in data["counts"]] == pytest.approx(counts["chance"].tolist(), abs=1e-4)
    assert {dot["kind"].split(",")[0] for dot in data["jars"]} == {"alike"}
    assert usual.answer.text.startswith("Of 111 recorded jars about ")
    assert "on their own schedules" in usual.answer.text
    assert len(usual.answer.text.split()) <= 30
    assert "follows each jar by its own last feed" in usual.note.markup
    usual.days.value = 22
    assert usual.turn.label == ALL_JARS
    assert "such jars" in usual.answer.text


def test_nothing_below_is_worked_out_before_somebody_asks(root):
    fresh = FeedsToRecovery(root / "experiments")
    assert [one.markup for one in (*fresh.folds[:4], fresh.rules.fold, *fresh.folds[5:])] == [""] * 7
    assert {"learned", "record_ledger", "_with_rye"} & set(vars(fresh.study)) == set()


def test_agreement_is_a_table_with_a_verdict_and_what_nothing_carried_would_say(usual):
    said = unfolded(usual, "agree")
    rows = re.findall(r"<tr>(.*?)</tr>", said, re.DOTALL)
    jars = [int(re.findall(r"<td>(.*?)</td>", row)[1]) for row in rows if "<td>" in row]
    assert sum(jars) == len(usual.study.jars)
    alone = ledger_by_jar(usual.study.experiment, fit=usual.study.cold, feeds=2)
    assert f"Were nothing left, it would expect {alone.loc[alone['feed'] == 2, 'chance'].sum():.1f}" in said
    assert "Undecided is the usual answer" in said
    assert "that feeds repay, not like a coin" in said


def test_the_forecast_moves_from_prior_through_counts_to_both_and_follows_the_sliders(usual):
    said = unfolded(usual, "What the record adds")
    assert "111 jars moved it so far" in said
    assert "The record is near this jar: at most half as long again as its longest hold" in said
    assert "the law does not fit these jars there. Trust the counts." in said
    usual.days.value = 100
    assert fold(usual, "What the record adds").markup != said
    assert "A guess: the longest hold on record is 56 days" in fold(usual, "What the record adds").markup


def test_what_the_cold_took_names_clocks_trend_and_share(usual):
    said = unfolded(usual, "What the cold took")
    for name in usual.study.cultures:
        assert f"<td>{name}</td>" in said
    assert "prior" in said
    assert "left of the debt" in said
    falls = owed_by_feed(usual.study.cold).iloc[0]
    assert f"<td>{falls['owed_doublings']:.2f} ({falls['owed_low']:.2f} to {falls['owed_high']:.2f})</td>" in said


def test_every_jar_has_its_reason_and_those_left_out_theirs(usual):
    said = unfolded(usual, "Why each jar")
    for jar in usual.study.jars["jar"]:
        assert f"<td>{jar}</td>" in said
    assert "Withdrawn: glass cracked after feed 2" in said
    assert "a debt of at most 0.5 doublings" in said


def test_another_rule_moves_jars_and_the_experiment_keeps_its_own(usual):
    assert "own rule" in unfolded(usual, "Another rule")
    usual.rules.debt.text = "1,0"
    said = usual.rules.fold.markup
    other = Study.of(usual.study.experiment, rule=usual.rules.rule())
    later = other.jars.set_index("jar")["feeds_to_recovery"]
    before = usual.study.jars.set_index("jar")["feeds_to_recovery"]
    sooner = (later.fillna(99) < before.fillna(99)).sum()
    assert sooner > 30
    assert (later.fillna(99) > before.fillna(99)).sum() == 0
    assert f"by this one {int((later <= 2).sum())} by feed 2" in said
    assert usual.study.rule.owed_at_most_doublings == 0.5
    usual.rules.rise.text = "900"
    assert usual.rules.rise.message.startswith("Rise at least is 900;")
    assert usual.rules.rule().rise_at_least_fraction == 0.9
    usual.rules.run.value = "two in a row"
    assert "in 2 feeds in a row" in usual.rules.fold.markup
    usual.experiment.value = ALONE
    usual.experiment.value = "harbour-rota"
    assert usual.rules.debt.text == "0.5"


def test_a_reviewer_finds_errors_named_and_each_doubt_with_its_sentence(usual):
    said = unfolded(usual, "reviewer")
    assert "Standard errors: expected (Fisher) information" in said
    assert said.count("<h4>") == 6
    assert "moves the chance of being ready by feed 2 most" in said
    assert "hours between feeds, culture" in said
    assert "than the better plain rule" in said


def test_nothing_on_the_page_names_a_column_of_the_record(usual):
    usual.days.value, usual.rye.value, usual.between.value = 90, 70, 40
    for one in (*usual.folds[:4], usual.rules.fold, *usual.folds[5:]):
        one.unfolded = True
        assert not BACKSTAGE.findall(one.markup), one.title
    assert not BACKSTAGE.findall(usual.note.markup)
    assert "Rye: 70 %; the record has 0 % to 33 %." in usual.note.markup
    assert "Hours between feeds: 40 h; the record has 9 h to 19.5 h." in usual.note.markup


@pytest.mark.parametrize("column", COLUMNS)
def test_a_column_becomes_words_wherever_it_stands(column):
    for text in (column, f"np.log1p({column})", f"C({column})", f"{column} says nothing new"):
        assert column not in in_words(text)


def test_nine_of_ten_says_when_it_is_not_reached():
    counts = pd.DataFrame({"feed": [1, 2], "chance": [0.1, 0.4], "low": [0.0, 0.1], "high": [0.5, 0.95]})
    assert nine_of_ten(counts) == "Nine of ten such jars, by the counts: after more than 2 feeds (2 to more than 2)."
    assert nine_of_ten(counts.iloc[:0]) == ""


def test_invented_data_is_said_on_chart_and_page(usual):
    assert usual.chart.update["data"]["said"] == [{"text": "invented data"}]
    assert "The data are invented" in usual.about.markup


def test_a_broken_experiment_is_one_sentence_and_no_picture(root, tmp_path):
    shutil.copytree(root / "experiments" / "harbour-rota", tmp_path / "broken")
    (tmp_path / "broken" / "jars.csv").unlink()
    broken = FeedsToRecovery(tmp_path)
    assert broken.answer.trouble
    assert "jars.csv" in broken.answer.text
    assert broken.study is None
    data = broken.chart.update["data"]
    assert [data[name] for name in ("counts", "ledger", "jars")] == [[], [], []]
    broken.days.value = 30
    broken.turn.presses += 1
    assert broken.answer.trouble
    assert "Mend it, or choose another" in unfolded(broken, "agree")
    broken.save.presses += 1
    assert broken.save.trouble
    assert "Choose one above" in broken.save.message
    broken.experiment.value = ALONE
    assert not broken.answer.trouble


@pytest.mark.parametrize("folder", ["no such folder", "."])
def test_without_any_experiment_the_ledger_answers_alone_and_says_so(tmp_path, folder):
    page = FeedsToRecovery(tmp_path / folder)
    assert (page.experiment.value, page.culture.value) == (ALONE, NOBODY)
    assert re.fullmatch(
        r"A guess \(no jar is on record\): the ledger says about \d+ of 10 such jars by feed \d \(\d+ to \d+\)\.",
        page.answer.text,
    )
    assert "anything up to 85 % is taken to be as likely (our choice)" in page.note.markup
    said = unfolded(page, "What the record adds")
    assert "no jar moved it so far" in said
    assert "No jar is on record: this is the ledger" in said
    for title in ("agree", "cold took", "Why each jar", "Another rule", "reviewer"):
        assert "No jar is on record, so there is nothing to count." in unfolded(page, title)
    page.turn.presses += 1
    assert page.answer.text == "No jar is on record, so there is nothing to count."
    page.days.value = 30
    assert not page.answer.trouble


@pytest.mark.parametrize("name", SMALL)
def test_too_little_is_a_sentence_and_the_rest_never_a_traceback(name, tmp_path):
    SMALL[name](tmp_path / "small")
    page = FeedsToRecovery(tmp_path)
    assert not page.answer.trouble
    assert re.search(r"\d+ of 10 such jars by feed \d \(\d+ to \d+\)", page.answer.text)
    seen = [page.note.markup, page.about.markup]
    for one in (*page.folds[:4], page.rules.fold, *page.folds[5:]):
        one.unfolded = True
        assert one.markup
        seen.append(one.markup)
    page.rules.debt.text = "2"
    page.turn.presses += 1
    seen += [page.answer.text, page.rules.fold.markup, page.report()]
    assert not [BACKSTAGE.findall(text) for text in seen if BACKSTAGE.findall(text)]
    page.days.value = 30
    assert not page.answer.trouble


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("one jar", "Intervals from fewer than 12 jars are approximate."),
        ("none back", "No jar recovered, so only a lower limit of the feeds needed can be told."),
        ("all at once", "Every jar recovered at the first feed it was seen at, so only an upper limit can be told."),
        ("no fridge", "The fridges on record were at temperatures nobody wrote down."),
        ("no baseline", "No jar on record has an outcome yet, so there is nothing to count."),
    ],
)
def test_too_little_says_what_cannot_be_told(name, says, tmp_path):
    SMALL[name](tmp_path / "small")
    assert says in FeedsToRecovery(tmp_path).note.markup


def test_without_baseline_feeds_differences_are_told(tmp_path):
    SMALL["no baseline"](tmp_path / "small")
    page = FeedsToRecovery(tmp_path)
    assert "; the usual pace on the published yeast curve" in page.note.markup
    said = unfolded(page, "Why each jar")
    assert "Differences only" in said
    assert "only differences in W can be told" in said


def test_from_six_cultures_on_their_spread_is_told_and_the_counts_are_averaged_over_them(usual):
    jars = usual.study.jars.assign(culture=[f"c{number % 7}" for number in range(len(usual.study.jars))])
    study = replace(usual.study, jars=jars, fit=fit_recovery(risk_table(jars)))
    assert "C(culture)" not in str(study.fit.formula)
    picture = usual.asked().picture(study)
    assert "averaged over cultures like those on record" in " ".join(remarks(usual.asked(), study, picture))
    fit = fit_cultures(risk_table(jars))
    assert f"levels spread by {fit.spread:.2f}" in errors_said(study)
    assert "observed information of the marginal likelihood" in errors_said(study)
    assert "All that follows is of the same fit without a level for each culture" in " ".join(
        map(str, review_parts(study))
    )
    assert picture.counts.equals(fit.ready_by(usual.asked().row(), feeds=FEEDS))
    alike = fit_cultures(risk_table(jars), "C(feed)").ready_by(jars.iloc[[0]], feeds=FEEDS)
    assert study.record_counts["chance"].to_numpy() == pytest.approx(alike["chance"], abs=1e-9)


def test_of_a_culture_the_counts_do_not_know_the_ledger_speaks_alone(root, tmp_path):
    folder = tmp_path / "rota"
    shutil.copytree(root / "experiments" / "harbour-rota", folder)
    jars = pd.read_csv(folder / "jars.csv", dtype=str, keep_default_na=False)
    jars.loc[jars["culture"] == "fulmar", "put_away_at"] = ""
    jars.to_csv(folder / "jars.csv", index=False)
    page = FeedsToRecovery(tmp_path)
    assert page.culture.options == ["kittiwake", "razorbill", "fulmar"]
    assert re.fullmatch(ANSWER.replace("about", "About"), page.answer.text)
    page.culture.value = "fulmar"
    assert page.answer.text.startswith("A guess (the counts have no jar of this culture): the ledger says about ")
    assert page.chart.update["data"]["counts"] == []
    assert "This is a guess. The counts have no jar of culture fulmar." in page.note.markup
    assert "counts, of 10" not in page.note.markup
    assert "the counts alone, of 10" in unfolded(page, "What the record adds")
    assert Asked.middling(page.study).culture == "kittiwake"


def test_a_refusal_takes_picture_and_numbers_away(usual, monkeypatch):
    def refused(*_):
        message = "Not this jar."
        raise ValueError(message)

    with monkeypatch.context() as patched:
        patched.setattr(Study, "ready_by", refused)
        usual.days.value = 30
        assert (usual.answer.text, usual.note.markup) == ("Not this jar.", "")
        assert [usual.chart.update["data"][name] for name in ("counts", "ledger", "jars")] == [[], [], []]
    usual.days.value = 21
    assert usual.note.markup


def test_jars_fed_once_and_back_stay_in_the_counts_though_they_have_no_hours_between_feeds(usual):
    jars = usual.study.jars
    once = jars["feeds_to_recovery"] == 1
    jars = jars.assign(hours_between_feeds=jars["hours_between_feeds"].mask(once))
    fit = fit_recovery(at_risk(jars))
    assert once.any()
    assert fit.jars == len(jars)
    assert "hours_between_feeds" not in str(fit.formula)
    assert "hours_between_feeds" in str(fit_recovery(at_risk(usual.study.jars)).formula)


def test_a_jar_without_a_covariate_of_the_fit_does_not_end_the_review(usual):
    jars = usual.study.jars
    jars = jars.assign(days_held=jars["days_held"].where(jars.index > 0))
    study = replace(usual.study, jars=jars, fit=fit_recovery(at_risk(jars)))
    assert study.fit.jars == len(jars) - 1
    assert "plain rule" in review_parts(study)[-1]


def test_a_jar_of_one_feed_is_fed_on_as_the_others_were(usual):
    feeds = usual.study.cold.feeds
    once = feeds["jar"].drop_duplicates().iloc[::2]
    feeds = feeds[~feeds["jar"].isin(once) | (feeds["feed"] == 1)]
    feeds = feeds.assign(hours_to_next=feeds["hours_to_next"].mask(feeds["jar"].isin(once), float("inf")))
    study = replace(usual.study, cold=replace(usual.study.cold, feeds=feeds))
    middle = feeds["hours_to_next"][feeds["hours_to_next"] < float("inf")].median()
    on = fed_on(study.cold).feeds
    assert (on.loc[on["jar"].isin(once), "hours_to_next"] == middle).all()
    assert on[~on["jar"].isin(once)].equals(feeds[~feeds["jar"].isin(once)])
    assert study.record_ledger["chance"].iloc[-1] > 0.95


def test_where_all_jars_have_one_feed_they_are_fed_on_after_the_usual_hours(tmp_path):
    study = Study.of(SMALL["all at once"](tmp_path / "small"))
    assert (fed_on(study.cold).feeds["hours_to_next"] == 12).all()
    assert study.record_ledger["chance"].is_monotonic_increasing
    assert study.record_ledger["chance"].iloc[-1] > study.record_ledger["chance"].iloc[0] + 0.5


def test_one_jar_and_none_are_said_as_such(tmp_path):
    page = FeedsToRecovery(tmp_path)
    SMALL["one jar"](tmp_path / "one")
    SMALL["no baseline"](tmp_path / "other")
    page = FeedsToRecovery(tmp_path)
    page.experiment.value = "one"
    assert "small: 1 jar, recovered." in page.about.markup
    assert "of none the deciding feed is undecided" in unfolded(page, "Why each jar")
    assert "by feed 2, with" in unfolded(page, "agree")
    assert "; none were.<" in unfolded(page, "agree")
    page.rules.run.value = "three in a row"
    assert "1 of 1 jar moves" in unfolded(page, "Another rule")
    assert "not yet at 2" in page.rules.fold.markup
    page.experiment.value = "other"
    assert "small: no jar has an outcome yet." in page.about.markup
    assert page.answer.text.startswith("A guess (no jar has an outcome yet): ")
    assert page.note.markup.count("nothing to count") == 1
    assert "no jar has an outcome yet" in unfolded(page, "What the record adds").lower()
    assert "No jar whose debt can be told" in unfolded(page, "cold took")
    assert "its culture has its own clock" in unfolded(page, "cold took")
    page.rules.debt.text = "2"
    assert "so there is nothing to count" in unfolded(page, "Another rule")


def test_a_jar_undecided_from_its_first_feed_is_not_said_to_be_seen_at_none(tmp_path):
    study = Study.of(SMALL["all at once"](tmp_path / "small"))
    table = moved_parts(study, RecoveryRule(feeds_in_a_row=2))[2]
    assert table["after, at feed"].tolist() == ["undecided from 1"] * 4
    assert rule_said(replace(study, rule=RecoveryRule(owed_at_most_doublings=1))).startswith(
        "back when a feed shows a debt of at most 1 doubling and"
    )


def test_a_gap_beyond_chance_is_named_though_a_larger_one_of_fewer_jars_is_not(usual, monkeypatch):
    found = usual.study.agreement()
    rows = [(0.0, 0.25, 21, 1.6, 13, 0.55, 0.34, 0.72), (0.5, 0.75, 2, 1.2, 0, -0.59, -0.59, 0.18)]
    table = pd.DataFrame(rows, columns=found.by_forecast.columns)
    other = replace(found, by_forecast=table, worst_gap=(-0.59, -0.59, 0.18))
    monkeypatch.setattr(Study, "agreement", lambda _study, **_how: other)
    said = [part for part in agreement_parts(usual.study) if isinstance(part, str)]
    assert "Beyond what chance allows is the gap where the ledger said 0 to 2.5 of 10." in said
    monkeypatch.setattr(Study, "agreement", lambda _study, **_how: found)
    assert not [part for part in agreement_parts(usual.study) if str(part).startswith("Beyond")]


def test_a_culture_keeps_its_capitals_and_its_brackets():
    assert in_words("C(culture)[T.Gull [b]2]:np.log(feed)") == "Culture Gull [b]2:feed number (logarithm)"
    said = in_words("C(culture)[T.a]b], C(culture)[T.C d] and C(feed)[T.3] change.")
    assert said == "Culture a]b, culture C d and feed 3 change."


def test_only_folders_with_a_description_are_experiments(root, tmp_path):
    assert "harbour-rota" in experiments_in(root / "experiments")
    (tmp_path / "notes").mkdir()
    assert experiments_in(tmp_path) == []


def test_without_a_feed_that_most_reach_the_last_one_is_said():
    counts = pd.DataFrame({"feed": [1, 2], "chance": [0.1, 0.3], "low": [0.0, 0.2], "high": [0.2, 0.5]})
    shown = Recovery(counts=counts, ledger=counts.iloc[:0], jars=counts, invented=False)
    assert sentence(shown) == "About 3 of 10 such jars by feed 2 (2 to 5)."


def test_a_long_wait_counts_beyond_the_picture_and_a_broken_jar_does_not(tmp_path):
    kitchen = Kitchen(tmp_path / "small")
    for number in range(19):
        kitchen.jar(f"j{number:02}", [2.0, 0.0])
    kitchen.jar("slow", [3.0] * 10)
    kitchen.jar("dropped", [9.0, 9.0], days=1)
    kitchen.rows["jars"][-1]["status"] = "broken"
    study = Study.of(kitchen.trial)
    assert "dropped" not in set(study.jars["jar"])
    assert study.agreement().fixed_debt_over_memoryless is not None, "of twenty jars, the slow one too"
    assert "1 jar beyond feed 8: in the counts, not in the picture." in remarks_on_record(study)
    each = ledger_by_jar(study.experiment, fit=fed_on(study.cold), feeds=FEEDS, carried=study.shares)
    mean = each[each["jar"] != "dropped"].groupby("feed")["chance"].mean()
    assert study.record_ledger["chance"].tolist() == pytest.approx(mean.tolist(), abs=1e-9)
    assert each.groupby("feed")["chance"].mean().iloc[0] > mean.iloc[0] + 0.001


def test_a_jar_that_tells_nothing_is_not_counted_as_one_that_did(tmp_path):
    kitchen = Kitchen(tmp_path / "small")
    kitchen.jar("a", [2.0, 0.0])
    kitchen.jar("b", [2.0])
    kitchen.rows["readings"] = [row for row in kitchen.rows["readings"] if row["jar"] != "b" or "dome" not in row]
    study = Study.of(kitchen.trial)
    assert study.jars.set_index("jar").loc["b", "feeds_observed"] == 0
    assert study.learned.jars == 1
    assert ": 1 jar, recovered, and 1 jar of which not even the first feed is told. Every interval" in about(study)


def test_missing_covariates_are_said_in_jars_and_not_of_all_jars_together(tmp_path, root):
    copy = shutil.copytree(root / "experiments" / "harbour-rota", tmp_path / "copy")
    feeds = pd.read_csv(copy / "feeds.csv", dtype=str)
    some = feeds.loc[feeds["kind"] == "recovery", "jar"].unique()[:3]
    feeds.loc[feeds["jar"].isin(some) & (feeds["kind"] == "recovery"), "place_temp_c"] = ""
    feeds.to_csv(copy / "feeds.csv", index=False)
    study = Study.read(copy)
    assert "place_temp_c" in study.seen_by_counts
    assert any(re.search(r"\d+ feeds of 3 jars left out: a covariate is missing there", said) for said in notes(study))
    assert not any("left out" in said for said in notes(study, whole_record=True))


def test_both_stories_of_the_cold_stand_side_by_side(usual):
    """Against the library's own answers for each story."""
    study = usual.study
    expected = {str(cold): study.agreement(cold=cold).by_forecast["expected"].sum() for cold in (CREEP, STOP)}
    said = unfolded(usual, "agree")
    assert f"In all the ledger by creep expects {expected['creep']:.1f} of 111 jars ready by feed 2" in said
    assert f"did nothing grow in the cold, by stop, {expected['stop']:.1f}." in said
    assert expected["stop"] < expected["creep"] - 10
    cold = unfolded(usual, "cold took")
    for story in (CREEP, STOP):
        for row in cold_trend(study.experiment, fit=study.cold, cold=story).terms.itertuples():
            assert f"{row.estimate:.3f} ({row.low:.3f} to {row.high:.3f})".replace("-", "−") in cold
    assert "By creep: the cold took, in doublings a day, " in cold
