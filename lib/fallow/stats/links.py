"""Two ways from a sum of covariates to the chance of recovering at a feed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
# A row this far out says the same to sixteen digits as one further; its square still fits a float.
SATURATED = 300.0
OVERFLOWS = 700.0


@dataclass(frozen=True)
class Pieces:
    """The cumulative hazard a feed adds, c(eta) = -ln(1 - h), with what a likelihood and its penalty need of it.

    ``weight`` is the expected information of one jar, c'^2 / (e^c - 1); ``bend`` and ``bend_slope`` are the first and
    second derivative of ln(weight). All by eta.
    """

    cumulative: Floats
    slope: Floats
    curve: Floats
    weight: Floats
    bend: Floats
    bend_slope: Floats


@dataclass(frozen=True)
class Link:
    """A link between eta = x'beta and the hazard h of a feed."""

    name: str
    pieces: Callable[[Floats], Pieces]
    cumulative: Callable[[Floats], tuple[Floats, Floats, Floats]]


def _cloglog_cumulative(eta: Floats) -> tuple[Floats, Floats, Floats]:
    grown = np.exp(np.clip(eta, -OVERFLOWS, OVERFLOWS))
    return grown, grown, grown


def _cloglog(eta: Floats) -> Pieces:
    grown = np.exp(np.clip(eta, -SATURATED, SATURATED))
    shrunk = np.exp(-grown)
    share = -np.expm1(-grown)
    bend = grown / share
    return Pieces(grown, grown, grown, grown * shrunk * bend, 2 - bend, -bend * (1 - shrunk * bend))


def _logit_cumulative(eta: Floats) -> tuple[Floats, Floats, Floats]:
    chance = _expit(eta)
    return np.logaddexp(0.0, eta), chance, chance * _expit(-eta)


def _logit(eta: Floats) -> Pieces:
    total, chance, spread = _logit_cumulative(np.clip(eta, -SATURATED, SATURATED))
    return Pieces(total, chance, spread, spread, 1 - 2 * chance, -2 * spread)


def _expit(eta: Floats) -> Floats:
    return np.exp(-np.logaddexp(0.0, -eta))


#: ln(-ln(1 - h)) = eta: the grouped proportional-hazards model (Prentice & Gloeckler 1978, Biometrics 34:57-67).
CLOGLOG = Link("cloglog", _cloglog, _cloglog_cumulative)
#: ln(h / (1 - h)) = eta: proportional odds of the hazard.
LOGIT = Link("logit", _logit, _logit_cumulative)
