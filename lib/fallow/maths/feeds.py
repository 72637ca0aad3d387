"""A feed in grams: what went into the jar, how far it diluted the culture, and its ratio as bakers write it.

The ratios are definitions; the way of writing them is common practice, no source.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from fallow.maths.arguments import not_negative, positive

_RATIO_PART = re.compile(r"\d+(?:[.,]\d+)?|[.,]\d+")
_SHARE_SLACK = 1e-6


@dataclass(frozen=True, kw_only=True)
class Feed:
    """One feed: grams of old starter (the seed), of water, and of each new flour.

    Dilution D = total / seed; it costs log2(D) doublings (the law and its definitions, DEVELOPERS.md).

    Parameters
    ----------
    seed_g, water_g
        Grams, above zero.
    flours_g
        New flour by name in grams, each above zero. What a flour is called is not checked here.

    Raises
    ------
    ValueError
        When any amount is zero, negative or not a number, or when there is no flour.

    Examples
    --------
    The check value F1 (1:5:3 has D 9):

    >>> feed = Feed(seed_g=20, water_g=60, flours_g={"bread": 80, "rye": 20})
    >>> feed.ratio, feed.dilution, feed.inoculation_fraction, feed.hydration_fraction
    ('1:5:3', 9.0, 0.2, 0.6)
    """

    seed_g: float
    water_g: float
    flours_g: Mapping[str, float] = field(hash=False)

    def __post_init__(self) -> None:
        if not self.flours_g:
            message = "flours_g is empty; a feed needs flour. Give each flour's grams, as in {'bread': 80, 'rye': 20}."
            raise ValueError(message)
        flours = {str(name): float(positive(f"{name} flour_g", grams)) for name, grams in self.flours_g.items()}
        object.__setattr__(self, "seed_g", float(positive("seed_g", self.seed_g)))
        object.__setattr__(self, "water_g", float(positive("water_g", self.water_g)))
        object.__setattr__(self, "flours_g", flours)

    @classmethod
    def from_ratio(cls, ratio: str, *, seed_g: float, flour_shares: Mapping[str, float]) -> Feed:
        """Return the feed of a ratio starter:flour:water ("1:5:5") for ``seed_g`` grams of starter.

        Parameters
        ----------
        ratio
            Three numbers above zero; blanks and decimal commas are welcome ("1 : 4,5 : 5").
        flour_shares
            Share of each flour in the new flour; they add up to 1, and a share of 0 leaves that flour out.

        Examples
        --------
        >>> Feed.from_ratio("1 : 4,5 : 5", seed_g=20, flour_shares={"bread": 0.8, "rye": 0.2}).flours_g
        {'bread': 72.0, 'rye': 18.0}
        """
        starter, flour, water = read_ratio(ratio)
        seed = float(positive("seed_g", seed_g))
        flour_g = seed * flour / starter
        flours = {name: flour_g * share for name, share in checked_shares(flour_shares).items()}
        return cls(seed_g=seed, water_g=seed * water / starter, flours_g=flours)

    @property
    def flour_g(self) -> float:
        """Grams of new flour."""
        return math.fsum(self.flours_g.values())

    @property
    def total_g(self) -> float:
        """Grams in the jar after the feed."""
        return self.seed_g + self.water_g + self.flour_g

    @property
    def dilution(self) -> float:
        """Total grams after the feed over grams of old starter in it."""
        return self.total_g / self.seed_g

    @property
    def doublings(self) -> float:
        """How often the culture must double to be as dense as before: log2 of the dilution."""
        return math.log2(self.dilution)

    @property
    def inoculation_fraction(self) -> float:
        """Seed over new flour."""
        return self.seed_g / self.flour_g

    @property
    def hydration_fraction(self) -> float:
        """New water over new flour."""
        return self.water_g / self.flour_g

    @property
    def ratio(self) -> str:
        """The feed as starter:flour:water, the starter as 1, to two decimals ("1:4.5:5")."""
        return ":".join(("1", _brief(self.flour_g / self.seed_g), _brief(self.water_g / self.seed_g)))


def read_ratio(ratio: str) -> tuple[float, float, float]:
    """Return starter, flour and water of a ratio text, or refuse it.

    >>> read_ratio("1:4.5:5")
    (1.0, 4.5, 5.0)
    >>> read_ratio("1:5")
    Traceback (most recent call last):
    ValueError: ratio is '1:5'; it must be three numbers above zero, starter:flour:water. Write it as in '1:5:5'.
    """
    parts = ["".join(part.split()) for part in str(ratio).split(":")]
    numbers = [float(part.replace(",", ".")) for part in parts if _RATIO_PART.fullmatch(part)]
    if len(parts) != 3 or len(numbers) != 3 or not all(0 < number < math.inf for number in numbers):
        message = (
            f"ratio is {ratio!r}; it must be three numbers above zero, starter:flour:water. Write it as in '1:5:5'."
        )
        raise ValueError(message)
    return numbers[0], numbers[1], numbers[2]


def checked_shares(flour_shares: Mapping[str, float]) -> dict[str, float]:
    """Return flour shares without those of zero, or refuse shares that do not add up to 1.

    >>> checked_shares({"bread": 0.8, "rye": 0.1})
    Traceback (most recent call last):
    ValueError: flour_shares add up to 0.9; they must add up to 1. Write 80 % bread and 20 % rye as 0.8 and 0.2.
    """
    shares = {str(name): float(not_negative(f"share of {name}", share)) for name, share in flour_shares.items()}
    whole = math.fsum(shares.values())
    if abs(whole - 1) > _SHARE_SLACK:
        message = (
            f"flour_shares add up to {whole:g}; they must add up to 1. Write 80 % bread and 20 % rye as 0.8 and 0.2."
        )
        raise ValueError(message)
    return {name: share / whole for name, share in shares.items() if share > 0}


def _brief(number: float) -> str:
    if number < 0.1:
        return f"{number:.2g}"
    return f"{number:.2f}".rstrip("0").rstrip(".")
