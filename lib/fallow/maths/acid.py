"""Sourness: titrated acid that keeps its convention, what part of an acid is undissociated, what a feed leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fallow.maths.arguments import FloatOrArray, Number, finite, not_negative, plain, positive

LACTIC_PKA = 3.86  # 25 degC, textbook
ACETIC_PKA = 4.76  # 25 degC, textbook
YEAST_STOPS_AT_ACETIC_MMOL_PER_L = 150.0  # undissociated; Gaenzle 1998, abstract read


def undissociated_fraction(*, ph: Number, pka: Number) -> FloatOrArray:
    """Return what share of an acid is undissociated, the form that gets into cells: 1/(1 + 10^(pH - pKa)).

    Source: Henderson-Hasselbalch (textbook); check A1, acetic acid at pH 3.8.

    >>> round(undissociated_fraction(ph=3.8, pka=ACETIC_PKA), 4)
    0.9012
    """
    return plain(np.asarray(np.exp(-np.logaddexp(0.0, np.log(10.0) * (finite("ph", ph) - finite("pka", pka))))))


def undissociated_mmol_per_l(
    *, total_mmol_per_kg: Number, ph: Number, pka: Number, water_fraction: Number
) -> FloatOrArray:
    """Return the undissociated acid in the dough's water: total * share / water in a kg, in mmol/L.

    Parameters
    ----------
    total_mmol_per_kg
        The acid in a kg of starter.
    ph, pka
        Of the starter, and of the acid.
    water_fraction
        Water in the starter, the flour's own included, above 0 to 1.

    Notes
    -----
    Source: derived from Henderson-Hasselbalch. Check: a ripe starter of dough yield 160 with 43.3
    mmol/kg lactic acid at pH 3.89. Yeast stops at 150 mmol/L undissociated acetic acid (Gaenzle 1998).

    >>> water = (60 + 14) / 160
    >>> round(undissociated_mmol_per_l(total_mmol_per_kg=43.3, ph=3.89, pka=LACTIC_PKA, water_fraction=water))
    45
    """
    water = positive("water_fraction", water_fraction)
    if np.any(water > 1):
        message = f"water_fraction is {float(water.max()):g}; it is at most 1. Write 46 % as 0.46."
        raise ValueError(message)
    share = undissociated_fraction(ph=ph, pka=pka)
    return plain(np.asarray(not_negative("total_mmol_per_kg", total_mmol_per_kg) * share / water))


@dataclass(frozen=True, kw_only=True)
class TitratableAcidity:
    """Alkali used to bring a sample to a stated pH. Without sample and endpoint the number means nothing.

    Parameters
    ----------
    ml
        Alkali used, mL.
    endpoint_ph
        Where titration stopped: 8.5 in most European papers (Saeuregrad), 6.6 in the US trade.
    sample_g
        Grams titrated: 10 with the former, 15 with the latter.
    molar
        Strength of the alkali, mol/L.

    Notes
    -----
    Source: definition. Sample sizes convert, endpoints do not: flour buffers differently on the way to each. Check
    A3:

    >>> TitratableAcidity(ml=6.6, endpoint_ph=8.5, sample_g=10).mmol_per_kg
    66.0
    """

    ml: float
    endpoint_ph: float
    sample_g: float
    molar: float = 0.1

    def __post_init__(self) -> None:
        not_negative("ml", self.ml)
        positive("sample_g", self.sample_g)
        positive("molar", self.molar)
        end = float(finite("endpoint_ph", self.endpoint_ph))
        if not 5 <= end <= 10:
            message = f"endpoint_ph is {end:g}; dough is titrated to between 5 and 10. Give 8.5 or 6.6, as you did it."
            raise ValueError(message)

    @property
    def mmol_per_kg(self) -> float:
        """Acid that was neutralised on the way to the endpoint, mmol in a kg."""
        return self.ml * (self.molar * 1e6 / self.sample_g) / 1e3

    @property
    def convention(self) -> str:
        """Sample and endpoint in words."""
        return f"{self.sample_g:g} g to pH {self.endpoint_ph:g} with {self.molar:g} mol/L"

    def for_sample(self, *, sample_g: float) -> TitratableAcidity:
        """Return what another sample size would have taken, to the same endpoint (by proportion).

        Check: 13 mL for 15 g is 8.7 mL for 10 g.

        >>> round(TitratableAcidity(ml=13, endpoint_ph=6.6, sample_g=15).for_sample(sample_g=10).ml, 1)
        8.7
        """
        ml = self.ml * float(positive("sample_g", sample_g)) / self.sample_g
        return TitratableAcidity(ml=ml, endpoint_ph=self.endpoint_ph, sample_g=sample_g, molar=self.molar)

    def difference_ml(self, other: TitratableAcidity) -> float:
        """Return this minus another, mL, when both were titrated alike; else refuse.

        >>> ripe = TitratableAcidity(ml=9, endpoint_ph=8.5, sample_g=10)
        >>> ripe.difference_ml(TitratableAcidity(ml=13, endpoint_ph=6.6, sample_g=15))
        Traceback (most recent call last):
        ValueError: one is 10 g to pH 8.5 with 0.1 mol/L, the other 15 g to pH 6.6 with 0.1 mol/L; only ...
        """
        if self.convention != other.convention:
            step = "Bring both to one sample size first."
            if self.endpoint_ph != other.endpoint_ph:
                step = "Endpoints cannot be converted: titrate again."
            message = (
                f"one is {self.convention}, the other {other.convention}; only values titrated alike compare. {step}"
            )
            raise ValueError(message)
        return self.ml - other.ml


def fermentation_quotient(*, lactic_mmol_per_kg: Number, acetic_mmol_per_kg: Number) -> FloatOrArray:
    """Return lactic over acetic acid, mole for mole.

    Source: definition. Check A2 (a ripe type I sourdough, 4.3 +- 0.2 printed in Nutrients 2019, 11:2954, Table 2):

    >>> round(fermentation_quotient(lactic_mmol_per_kg=43.3, acetic_mmol_per_kg=10.2), 3)
    4.245
    """
    lactic = not_negative("lactic_mmol_per_kg", lactic_mmol_per_kg)
    return plain(np.asarray(lactic / positive("acetic_mmol_per_kg", acetic_mmol_per_kg)))


def residual_acid_fraction(*, dilution: Number, feeds: Number) -> FloatOrArray:
    """Return what share of the old acid is left after some feeds: D^-n.

    Source: derived (each feed divides what was there by D). Check: two feeds of D 6.

    >>> round(residual_acid_fraction(dilution=6, feeds=2), 3)
    0.028
    """
    thinned = _dilution(dilution)
    return plain(np.asarray(thinned ** -not_negative("feeds", feeds)))


def steady_acid(*, made: Number, dilution: Number) -> FloatOrArray:
    """Return the acid at the end of each feed when every feed makes ``made`` and dilutes by D: m D/(D - 1).

    Source: derived (geometric series). In the unit of ``made``. Check: 1.5 m at D 3, 1.1 m at D 11.

    >>> round(steady_acid(made=1, dilution=3), 2), round(steady_acid(made=1, dilution=11), 2)
    (1.5, 1.1)
    """
    thinned = _dilution(dilution)
    return plain(np.asarray(not_negative("made", made) * thinned / (thinned - 1.0)))


def lab_per_yeast(*, lab_log10_cfu: Number, yeast_log10_cfu: Number) -> FloatOrArray:
    """Return how many lactic acid bacteria there are to each yeast cell, from two log10 counts.

    Source: definition. Check A4 (Nutrients 2019, 11:2954, Table 2):

    >>> round(lab_per_yeast(lab_log10_cfu=9.53, yeast_log10_cfu=7.33), 1)
    158.5
    """
    apart = finite("lab_log10_cfu", lab_log10_cfu) - finite("yeast_log10_cfu", yeast_log10_cfu)
    return plain(np.asarray(10.0**apart))


def _dilution(dilution: Number) -> np.ndarray:
    thinned = finite("dilution", dilution)
    if np.any(thinned <= 1):
        message = (
            f"dilution is {float(thinned.min()):g}; a feed makes more of the starter, so it is above 1. Use total/seed."
        )
        raise ValueError(message)
    return thinned
