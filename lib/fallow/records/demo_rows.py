"""The invented trial as rows of the record's tables: what was planned, done and seen, typing slips and a broken jar included."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from fallow.records.demo_design import CULTURES, Cell, Stream, plan
from fallow.records.demo_jar import LAST_RATIO, put_away
from fallow.records.demo_kitchen import (
    FeedSeen,
    baseline,
    recovery,
)
from fallow.records.demo_truth import ZONE, Look, Truth

Row = Mapping[str, object]
PLACES = {21.0: "galley bench", 27.0: "proving box", 3.0: "store fridge", 7.0: "galley fridge"}
# about 100 g in every jar, so that each starts at the same height
SEED_G = {1: 40, 2: 20, 4: 12, 5: 10, 8: 6, 10: 5}
SLIPS = 3
SLIPPED = "ruler had slipped, typed again two minutes later"
BROKE = "glass cracked after feed 2"


@dataclass(frozen=True, kw_only=True)
class Told:
    """One feed of one jar, as it goes into the tables."""

    jar: str
    seen: FeedSeen


def cells(*, draws: Stream) -> list[Cell]:
    """Return the jars of the plan, in the order of their numbers."""
    return plan(draws=draws)


def feeds_told(*, truth: Truth, draws: Stream) -> Iterator[Told]:
    """Give every feed of every jar in the order of the tables: the cultures in form, then jar by jar."""
    for name in CULTURES:
        for seen in baseline(truth=truth, name=name, draws=draws):
            yield Told(jar=f"{name}-home", seen=seen)
    jars = cells(draws=draws)
    broken = broken_jar(jars=jars, draws=draws)
    for cell in jars:
        yield Told(jar=cell.jar, seen=last_feed(cell=cell))
        for seen in recovery(truth=truth, cell=cell, draws=draws):
            if cell.jar != broken or seen.feed < 2:
                yield Told(jar=cell.jar, seen=seen)
            elif seen.feed == 2:
                looks = seen.looks[:1]
                yield Told(jar=cell.jar, seen=FeedSeen(**{**vars(seen), "looks": looks}))


def last_feed(*, cell: Cell) -> FeedSeen:
    """Return the feed before the cold (feed 0): 1:5:5 on white flour on the bench, not looked at."""
    fed, _, _ = put_away(cell=cell)
    return FeedSeen(feed=0, kind="last", at=fed, ratio=LAST_RATIO, rye_fraction=0.0, place_temp_c=21.0, looks=())


def broken_jar(*, jars: list[Cell], draws: Stream) -> str:
    """Return the jar that breaks."""
    return min(jars, key=lambda cell: draws.uniform("broken", cell.jar)).jar


def plan_rows(*, jars: list[Cell], seed: int) -> list[Row]:
    """Return plan.csv: each jar's block, position and treatment, the treatment also factor by factor."""
    return [
        {
            "jar": cell.jar,
            "block": cell.block,
            "position": cell.position,
            "treatment": cell.treatment,
            "seed": seed,
            "culture": cell.culture,
            "hold_days": cell.hold_days,
            "cold_c": f"{cell.hold_temp_c:g}",
            "third_rye": int(cell.rye_fraction > 0),
            "warm_c": f"{cell.place_temp_c:g}",
            "fed": "at the peak" if cell.at_peak else "by the clock",
            "bench_hours": f"{cell.bench_hours:g}",
        }
        for cell in jars
    ]


def culture_rows() -> list[Row]:
    """Return cultures.csv: nothing is known of a culture but its flour until the record says it."""
    note = "Invented. In form five days running, 28 July to 1 August 2025."
    return [{"culture": name, "flour": "white", "hydration_fraction": 1, "note": note} for name in CULTURES]


def jar_rows(*, jars: list[Cell], draws: Stream) -> list[Row]:
    """Return jars.csv."""
    broken = broken_jar(jars=jars, draws=draws)
    home: list[Row] = [
        {
            "jar": f"{name}-home",
            "culture": name,
            "height_unit": "mm",
            "status": "done",
            "note": "the culture itself, in form; never put away",
        }
        for name in CULTURES
    ]
    return home + [_jar_row(cell, broken=cell.jar == broken) for cell in jars]


def _jar_row(cell: Cell, *, broken: bool) -> Row:
    _, away, out = put_away(cell=cell)
    return {
        "jar": cell.jar,
        "culture": cell.culture,
        "block": cell.block,
        "position": cell.position,
        "treatment": cell.treatment,
        "put_away_at": stamp(away),
        "out_at": stamp(out),
        "hold_place": PLACES[cell.hold_temp_c],
        "hold_temp_c": f"{cell.hold_temp_c:g}",
        "height_unit": "mm",
        "status": "broken" if broken else "done",
        "withdrawn": BROKE if broken else "",
    }


def feed_rows(told: list[Told]) -> list[Row]:
    """Return feeds.csv."""
    return [
        {
            "jar": each.jar,
            "feed": each.seen.feed,
            "kind": each.seen.kind,
            "at": stamp(each.seen.at),
            "seed_g": SEED_G[each.seen.ratio],
            "water_g": SEED_G[each.seen.ratio] * each.seen.ratio,
            "place": PLACES[21.0 if each.seen.place_temp_c < 24 else 27.0],
            "place_temp_c": round(each.seen.place_temp_c, 1),
        }
        for each in told
    ]


def flour_rows(told: list[Told]) -> list[Row]:
    """Return feed_flours.csv."""
    rows: list[Row] = []
    for each in told:
        grams = SEED_G[each.seen.ratio] * each.seen.ratio
        rye = round(grams * each.seen.rye_fraction)
        rows.append({"jar": each.jar, "feed": each.seen.feed, "flour": "white", "grams": grams - rye})
        if rye:
            rows.append({"jar": each.jar, "feed": each.seen.feed, "flour": "rye", "grams": rye})
    return rows


def reading_rows(told: list[Told], *, draws: Stream) -> list[Row]:
    """Return readings.csv, with three slips of the ruler kept and withdrawn."""
    rows: list[dict[str, object]] = []
    for each in told:
        for look in each.seen.looks:
            rows.append(_reading_row(each, look, draws=draws))
    tall = [i for i, row in enumerate(rows) if row["dome"] == "domed" and row["height"] is not None]
    for i in sorted(sorted(tall, key=lambda i: draws.uniform("slip", i))[:SLIPS], reverse=True):
        slip = {**rows[i], "at": stamp(_instant(rows[i]) - timedelta(minutes=2)), "height": _slipped(rows[i])}
        rows.insert(i, {**slip, "withdrawn": SLIPPED})
    return list(rows)


def _reading_row(each: Told, look: Look, *, draws: Stream) -> dict[str, object]:
    fresh = look.at == each.seen.at
    smelled = not fresh and draws.uniform(each.jar, look.at, "smell") < 0.12
    return {
        "jar": each.jar,
        "feed": each.seen.feed,
        "at": stamp(look.at),
        "height": look.height_mm,
        "streak_height": look.streak_mm,
        "dome": "" if fresh else look.dome,
        "bubbles": "" if fresh else ("few" if look.dome == "domed" else "many"),
        "smell": ("sharp" if each.seen.feed < 2 else "yoghurt") if smelled else "",
    }


def _instant(row: Row) -> datetime:
    return datetime.fromisoformat(str(row["at"])).astimezone(UTC)


def _slipped(row: Row) -> int:
    return int(str(row["height"])) - 11


def stamp(at: datetime) -> str:
    """Return an instant by the kitchen's clock with its offset, as the record writes it."""
    return at.astimezone(ZONE).isoformat()
