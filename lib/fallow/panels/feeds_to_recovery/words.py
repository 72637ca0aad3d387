"""The page's sentences: the answer, and what it rests on."""

from __future__ import annotations

import pandas as pd

from fallow.charts.recovery import Recovery
from fallow.panels.feeds_to_recovery.asked import Asked
from fallow.panels.feeds_to_recovery.study import FEEDS, Study
from fallow.panels.feeds_to_recovery.terms import COLUMNS, in_unit, in_words, listed
from fallow.records.said_number import counted
from fallow.stats.cultures import CultureFit
from fallow.stats.learning import MOST_CARRIED
from fallow.stats.reach import guess_sentences

MOST, NINE_OF_TEN = 0.65, 0.9
CHILLED_RIPE = "that the jar went into the cold ripe"
CAUTIONS = (
    "Raw flour is raw food: do not taste it. Leave the lid loose, for a closed jar can burst. Throw a jar away that smells rotten, "
    "is pink or orange, or grows mould. For what is sold or served, follow your local food-safety rules."
)


def sentence(picture: Recovery, *, guess: str = "") -> str:
    """Return the answer: jars of ten by the feed at which most are ready, with the interval, and the ledger's word.

    >>> counts = pd.DataFrame({"feed": [1, 2], "chance": [0.3, 0.7], "low": [0.2, 0.5], "high": [0.4, 0.9]})
    >>> ledger = pd.DataFrame({"feed": [1, 2], "chance": [0.1, 0.8], "low": [0.0, 0.4], "high": [0.2, 1.0]})
    >>> sentence(Recovery(counts=counts, ledger=ledger, jars=counts, invented=False))
    'About 7 of 10 such jars by feed 2 (5 to 9); the ledger says 8 (4 to 10).'
    >>> sentence(Recovery(counts=counts.iloc[:0], ledger=ledger, jars=counts, invented=False), guess="no jar is on record")
    'A guess (no jar is on record): the ledger says about 8 of 10 such jars by feed 2 (4 to 10).'
    """
    start = f"A guess ({guess}): " if guess else ""
    if not len(picture.counts):
        said = (
            f"the ledger says about {_tens(picture.ledger, _most(picture.ledger), ' of 10 such jars by feed {feed}')}."
        )
        return start + (said if guess else said[:1].upper() + said[1:])
    feed = _most(picture.counts)
    counted = _tens(picture.counts, feed, " of 10 such jars by feed {feed}")
    beside = f"; the ledger says {_tens(picture.ledger, feed)}" if feed in set(picture.ledger["feed"]) else ""
    return f"{start}{'about' if guess else 'About'} {counted}{beside}."


def sentence_of_record(study: Study, picture: Recovery) -> str:
    """Return the same for all recorded jars together."""
    if not len(picture.counts):
        feed = _most(picture.ledger)
        return f"The ledger, on the recorded jars' own schedules, says {_tens(picture.ledger, feed)} of 10 ready by feed {feed}."
    feed = _most(picture.counts)
    many = f"Of {len(study.jars)} recorded jars" if len(study.jars) > 1 else "Of jars like the one on record"
    counted = _tens(picture.counts, feed, " of 10 were ready by feed {feed}")
    beside = f"; the ledger, on their own schedules, says {_tens(picture.ledger, feed)}"
    return f"{many} about {counted}{beside}."


def remarks(asked: Asked, study: Study, picture: Recovery) -> list[str]:
    """Return what a reader should know of these numbers, a paragraph each."""
    blind = [word for column, word in COLUMNS.items() if column not in study.seen_by_counts]
    guesses = guess_sentences(asked.guesses(study))
    return [
        nine_of_ten(picture.counts),
        *guesses,
        *beyond(asked, study),
        assumed(asked, study),
        *notes(study),
        f"The counts do not depend on {listed(blind)}; the record does not let that be told."
        if blind and len(picture.counts)
        else "",
        CAUTIONS,
    ]


def remarks_on_record(study: Study) -> list[str]:
    """Return what a reader should know of the picture of all recorded jars."""
    return [
        "The counts take all jars together, whatever their hold, flour and place. The ledger follows each jar by its own last "
        "feed, hold, places and feeds (past its last feed as they were in the mean; a jar of one feed as the other jars were "
        "fed), by creep, with the debt of brewing yeast and with the share that ripe feeds left in these jars.",
        *notes(study, whole_record=True),
        CAUTIONS,
    ]


def about(study: Study) -> str:
    """Say in a line what record this is."""
    if study.experiment is None:
        return "No experiment: the ledger alone, with every default of a culture nobody has measured. Record a trial to move it."
    recovered = int(study.jars["recovered"].sum()) if len(study.jars) else 0
    told = int((study.jars["feeds_observed"] > 0).sum()) if len(study.jars) else 0
    silent = len(study.jars) - told
    more = f", and {counted(silent, 'jar')} of which not even the first feed is told" if silent else ""
    invented = " The data are invented: they say nothing about real starters." if study.invented else ""
    return f"{study.title}: {_recovered(told, recovered)}{more}.{_in_doubt(study)} Every interval holds 90 %.{invented}"


def _recovered(jars: int, recovered: int) -> str:
    """Say how many jars have an outcome and how many recovered.

    >>> _recovered(0, 0), _recovered(1, 1), _recovered(1, 0), _recovered(3, 0), _recovered(3, 2)
    ('no jar has an outcome yet', '1 jar, recovered', '1 jar, not yet recovered', '3 jars, none of them recovered', \
'3 jars, 2 of them recovered')
    """
    if jars < 2:
        return f"1 jar, {'' if recovered else 'not yet '}recovered" if jars else "no jar has an outcome yet"
    return f"{counted(jars, 'jar')}, {recovered or 'none'} of them recovered"


def _in_doubt(study: Study) -> str:
    """Say for how many jars the record leaves open at which feed they were back."""
    doubtful = int((study.jars["undecided"] & (study.jars["feeds_observed"] > 0)).sum()) if len(study.jars) else 0
    if not doubtful:
        return ""
    return (
        f" Of {counted(doubtful, 'jar')} the record leaves open whether the feed that counts met the rule: it counts where that "
        "is likelier than not."
    )


def notes(study: Study, *, whole_record: bool = False) -> list[str]:
    """Return what the fit itself remarks, in words; for all jars together that is the fit without covariates."""
    if study.fit is None:
        return [study.no_counts] if len(study.jars) else []
    fit = study.record_fit if whole_record else study.fit
    remarked = (fit.plain if isinstance(fit, CultureFit) else fit).notes
    many = [
        "With six cultures or more the counts are averaged over cultures like those on record; how far apart they lie is in the "
        "interval, and under what a reviewer asks."
    ]
    return [*(in_words(note) for note in remarked), *(many if study.many_cultures else []), _beyond_picture(study)]


def _beyond_picture(study: Study) -> str:
    """Say which jars the picture has no room for."""
    late = int((study.jars["feeds_observed"] > FEEDS).sum())
    return f"{counted(late, 'jar')} beyond feed {FEEDS}: in the counts, not in the picture." if late else ""


def assumed(asked: Asked, study: Study) -> str:
    """Say in plain words what the ledger takes for granted of the jar that is asked about."""
    own = study.cold is not None and asked.culture in set(study.cold.believed) - set(study.cold.only_differences)
    pace = "this culture's own pace" if own else "the usual pace"
    middle = " (the middle of the record)" if len(study.jars) else " (a feed of 1:2:2, our choice)"
    return (
        f"The ledger assumes {CHILLED_RIPE}; that it is fed every {asked.hours_between_feeds:g} h, each feed diluting it "
        f"{round(study.usual_dilution, 1):g} times{middle}; {pace} on the published yeast curve; that the cold took what brewing yeast "
        f"loses, a prior and not a fact about your culture; and that {share_said(asked, study)}. "
        "Story of the cold: creep (growth creeps on below the coldest that was measured); for a jar chilled ripe, stop gives the same."
    )


def share_said(asked: Asked, study: Study) -> str:
    """Say what share of the debt a ripe feed is taken to leave, and whose share that is."""
    low, middle, high = study.carried(rye=asked.rye).interval
    said = f"a ripe feed leaves {middle:.0%} ({low:.0%} to {high:.0%}) of what a jar still owes".replace("%", " %")
    flour, other = ("with rye", "without rye") if asked.rye else ("without rye", "with rye")
    whose = {
        "": f", as the recorded jars {flour} showed",
        "other": f", as the recorded jars {other} showed, for none {flour} is there to show it",
        "nobody": f", which nobody has measured: anything up to {MOST_CARRIED:.0%} is taken to be as likely (our choice)",
    }
    return said + whose[study.carried_by(rye=asked.rye)].replace("%", " %")


def nine_of_ten(counts: pd.DataFrame) -> str:
    """Say by which feed nine of ten such jars are ready, with the ends where the ends of the chance get there.

    >>> counts = pd.DataFrame({"feed": [1, 2, 3], "chance": [0.3, 0.9, 1], "low": [0.2, 0.5, 0.8], "high": [0.91, 1, 1]})
    >>> nine_of_ten(counts)
    'Nine of ten such jars, by the counts: by feed 2 (1 to more than 3).'
    """
    if not len(counts):
        return ""
    last = int(counts["feed"].max())
    ends = []
    for name in ("chance", "high", "low"):
        there = counts.loc[counts[name] >= NINE_OF_TEN, "feed"]
        ends.append(f"{int(there.iloc[0])}" if len(there) else f"more than {last}")
    start = f"by feed {ends[0]}" if ends[0].isdigit() else f"after {ends[0]} feeds"
    return f"Nine of ten such jars, by the counts: {start} ({ends[1]} to {ends[2]})."


def beyond(asked: Asked, study: Study) -> list[str]:
    """Say where the jar lies outside what was recorded, in words and units."""
    said = []
    for column, (low, high) in study.recorded.items():
        value = float(getattr(asked, column))
        if column not in study.seen_by_counts:
            continue
        if not low <= value <= high and (shown := in_unit(column, value)) not in (
            in_unit(column, low),
            in_unit(column, high),
        ):
            said.append(
                f"{in_words(column)}: {shown}; the record has {in_unit(column, low)} to {in_unit(column, high)}."
            )
    return said


def numbers(picture: Recovery) -> pd.DataFrame:
    """Return the picture's numbers as a table, in jars of ten."""
    table = pd.DataFrame({"by feed": [f"{feed}" for feed in picture.ledger["feed"]]})
    counts = picture.counts.set_index("feed").reindex(picture.ledger["feed"])
    if len(picture.counts):
        table["counts, of 10"] = between(counts["chance"], counts["low"], counts["high"])
    table["ledger, of 10"] = between(picture.ledger["chance"], picture.ledger["low"], picture.ledger["high"])
    if len(picture.counts):
        table[""] = ["beyond the record" if known and late else "" for known, late in _late(counts)]
    return table


def between(middle: pd.Series, low: pd.Series, high: pd.Series) -> list[str]:
    """Return chances as jars of ten with their ends: '6.3 (4.8 to 7.7)'; empty where there is none."""
    rows = zip(middle, low, high, strict=True)
    return ["" if pd.isna(m) else f"{10 * m:.1f} ({10 * lo:.1f} to {10 * hi:.1f})" for m, lo, hi in rows]


def _late(counts: pd.DataFrame) -> list[tuple[bool, bool]]:
    return [
        (pd.notna(c), bool(e) if pd.notna(e) else False)
        for c, e in zip(counts["chance"], counts["extrapolated"], strict=True)
    ]


def _most(table: pd.DataFrame) -> int:
    """Return the first feed at which most jars are ready, or the last there is."""
    most = table.loc[table["chance"] >= MOST, "feed"]
    return int(most.iloc[0] if len(most) else table["feed"].iloc[-1])


def _tens(table: pd.DataFrame, feed: int, after: str = "") -> str:
    row = table[table["feed"] == feed]
    chance, low, high = (round(10 * float(row[name].iloc[0])) for name in ("chance", "low", "high"))
    return f"{chance}{after.format(feed=feed)} ({low} to {high})"
