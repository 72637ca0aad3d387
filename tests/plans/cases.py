"""Random households for the plans' tests, and a second, slower reckoning of what their plans come to."""

from __future__ import annotations

import json
import math
import subprocess
from pathlib import Path

import numpy as np
import pandas as pd

from fallow.maths.defaults import DEFAULTS
from fallow.maths.ledger import earned_doublings
from fallow.maths.profile import Profile
from fallow.maths.rates import GAENZLE_1998_YEAST
from fallow.plans.bring_back import bring_back
from fallow.plans.plan import BringBack

SEARCHED = 20260516
AWAKE = (("07:00", "22:30"), ("06:00", "23:00"), ("09:00", "01:00"), ("05:30", "21:00"))
EVENINGS = ("17:30", "23:00")


def household(number: int, *, hours=(14, 40), root: int = SEARCHED, awake=AWAKE) -> dict:
    """Return the arguments of one random bring-back; equal numbers and roots give equal households."""
    rng = np.random.default_rng([root, number])
    home = pd.Timestamp("2026-05-15T00:00+02:00") + pd.Timedelta(hours=float(rng.integers(0, 48)) / 2 + 7)
    places = {"kitchen": round(float(rng.uniform(18, 25)), 1)}
    if rng.random() < 0.3:
        places["kitchen"] = (places["kitchen"], places["kitchen"] - 3)
    if rng.random() < 0.7:
        places["warm box"] = round(float(rng.uniform(25, 30)), 1)
    return {
        "home_at": home,
        "mix_at": home + pd.Timedelta(hours=float(rng.integers(2 * hours[0], 2 * hours[1])) / 2),
        "places": places,
        "awake": awake[rng.integers(len(awake))],
        "days_held": float(rng.integers(3, 60)),
        "hold_temp_c": round(float(rng.uniform(2, 7)), 1),
        "ripe_g": float(rng.integers(40, 500)),
        "keep_g": float(rng.integers(10, 50)),
        "scale_g": float(rng.choice([0.1, 1, 2, 5])),
        "jar_g": float(rng.integers(60, 250)),
        "chance": float(rng.choice([0.6, 0.75, 0.85, 0.9, 0.95])),
    }


def evenings_only() -> BringBack:
    """Return a plan whose seed and last feed wait in the cold: one place, somebody there in the evenings, a long rest."""
    return bring_back(
        home_at="2026-05-15T20:00+02:00",
        mix_at="2026-05-18T21:00+02:00",
        places={"kitchen": 24},
        awake=("17:30", "22:30"),
        days_held=60,
        chance=0.8,
        scale_g=0.1,
    )


def truths(
    *, plan, count: int, seed: int | list[int], pace_factor: float = 1.0, place_off_c: float = 0.0
) -> np.ndarray:
    """Say for each of ``count`` true cultures, drawn at random, whether ``plan`` had it ready: the ledger, feed by feed.

    Nothing here goes through the search: plain random numbers, profiles and earned_doublings.
    """
    rng = np.random.default_rng(seed)
    setting = plan.setting
    pace = pace_factor * np.exp(DEFAULTS.pace.sd * rng.standard_normal(count))
    ripening = DEFAULTS.ripening_doublings.middle + DEFAULTS.ripening_doublings.sd * rng.standard_normal(count)
    shape = (setting.owed_mean / setting.owed_sd) ** 2
    owed = rng.gamma(shape, setting.owed_mean / shape, count)
    offsets = place_off_c + DEFAULTS.place_offset_c.sd * rng.standard_normal((len(setting.places) + 1, count))
    cold = rng.gamma(4.0, 0.25, count)
    share = np.zeros(count)
    if (left := setting.culture.carried) is not None:
        share = 1 / (1 + np.exp(-left.middle_logit - left.sd_logit * rng.standard_normal(count)))
    stops = [step.at for step in plan.steps[1:]] + [setting.hours]
    for step, stop in zip(plan.steps, stops, strict=True):
        seed_owed = owed
        warm = earned_doublings(
            profile=_stay(setting, step, min(stop, step.cold_at)),
            curve=GAENZLE_1998_YEAST,
            offset_c=offsets[step.place],
        )
        earned = warm
        if stop > step.cold_at:
            chill = Profile.cooling(
                start_c=setting.places[step.place].day_c,
                ambient_c=setting.fridge_temp_c,
                time_constant_hours=setting.cooling_hours,
                hours=stop - step.cold_at,
            )
            earned = warm + earned_doublings(profile=chill, curve=GAENZLE_1998_YEAST, offset_c=offsets[-1])
        past = pace * earned - step.log - seed_owed - ripening
        owed = np.maximum(share * seed_owed, seed_owed + step.log - pace * earned)
        if stop > step.cold_at:
            owed = owed + cold * taken_by_a_short_stay(days=(stop - step.cold_at) / 24, temp_c=setting.fridge_temp_c)
    return (past >= -0.5) & (past <= 2.0) & (seed_owed <= 0.5)


def taken_by_a_short_stay(*, days: float, temp_c: float) -> float:
    """Return (0.7 (1 - e^-days) + k(T) days)/ln 2, k = 0.0121 a day at 1 degC with Q10 6.2 (brewing yeast, McCaig and Bendiak 1985)."""
    return (0.7 * (1 - math.exp(-days)) + 0.0121 * 6.2 ** ((temp_c - 1) / 10) * days) / math.log(2)


def _stay(setting, step, stop: float) -> Profile:
    """Return one feed's temperatures in five-minute pieces of day and night, warming from its mix."""
    place = setting.places[step.place]
    hours = np.append(np.arange(step.at, stop - 1e-9, 1 / 12), stop)
    middles = (hours[1:] + hours[:-1]) / 2
    clock = setting.start.tz_convert("UTC") + pd.to_timedelta(middles, unit="h")
    clock = clock.tz_convert(setting.start.tzinfo)
    hour = clock.hour + clock.minute / 60 + clock.second / 3600
    awake = setting.awake
    day = (hour >= awake.start) & (hour <= awake.end)
    if awake.start > awake.end:
        day = (hour >= awake.start) | (hour <= awake.end)
    temps = np.where(day, place.day_c, place.night_c)
    if np.isfinite(step.mix_c):
        drift = (step.mix_c - place.day_c) * np.exp(-(middles - step.at) / setting.cooling_hours)
        temps = temps + drift
    edges = np.repeat(hours - step.at, 2)[1:-1]
    return Profile(hours=edges, temp_c=np.repeat(temps, 2))


def commit_of_plans() -> str:
    """Return the last commit that touched the plans: what a long run that begins now is made with."""
    words = ["git", "log", "-1", "--format=%h", "--", "lib/fallow/plans"]
    return subprocess.run(words, capture_output=True, text=True, check=False).stdout.strip() or "unknown"


def written(path: Path, *, title: str, test: str, rows: list[dict], commit: str) -> None:
    """Keep what a long run found, with the commit that made it."""
    data = {
        "title": title,
        "source": f"own simulation in one run, plans as of commit {commit}; written by python3 tests --long",
        "tag": "computed",
        "tolerance": {"abs": 0.0},
        "model": None,
        "test": test,
        "rows": rows,
    }
    path.write_text(json.dumps(data, indent=2) + "\n", encoding="utf-8")


def recorded(content: dict) -> pd.DataFrame:
    """Return the rows of a kept long run as a table."""
    return pd.DataFrame([{**row["in"], **row["out"]} for row in content["rows"]])
