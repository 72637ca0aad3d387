"""A design whose columns are told apart: one that says nothing new is named and left out, the rest made orthogonal."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
SAYS_NOTHING = 1e-8


@dataclass(frozen=True)
class Design:
    """``matrix`` = X U for the kept columns of X, with orthonormal columns when rows are weighted by jars at risk.

    Coefficients of the named columns are beta = U gamma; a hundred days held is then as easy to fit as a third rye.
    """

    names: tuple[str, ...]
    kept: npt.NDArray[np.intp]
    back: Floats
    matrix: Floats
    notes: tuple[str, ...]

    def level(self, eta: float) -> Floats:
        """Give the coefficients (gamma) whose rows come nearest to the same ``eta`` everywhere."""
        return np.asarray(np.linalg.lstsq(self.matrix, np.full(len(self.matrix), eta), rcond=None)[0])

    def rows(self, matrix: Floats) -> Floats:
        """Bring new rows of all columns into the coordinates of ``matrix``."""
        return np.asarray(matrix[:, self.kept] @ self.back)


def whiten(names: list[str], matrix: Floats, counts: Floats) -> Design:
    """Keep each column that adds something to those before it (QR decomposition), and say which did not."""
    length = np.sqrt(counts @ matrix**2)
    scaled = np.sqrt(counts)[:, None] * matrix / np.where(length > 0, length, 1.0)
    kept: list[int] = []
    basis = np.zeros((len(matrix), 0))
    for column in range(matrix.shape[1]):
        rest = scaled[:, column] - basis @ (basis.T @ scaled[:, column])
        rest -= basis @ (basis.T @ rest)
        if (size := float(np.linalg.norm(rest))) > SAYS_NOTHING:
            basis = np.column_stack([basis, rest / size])
            kept.append(column)
    lost = [column for column in range(matrix.shape[1]) if column not in kept]
    chosen = np.array(kept, dtype=np.intp)
    if not kept:
        message = "Every column of the formula is zero; at least one must vary. Add 1 or another column."
        raise ValueError(message)
    back = np.linalg.inv(np.linalg.qr(np.sqrt(counts)[:, None] * matrix[:, chosen])[1])
    notes = tuple(_why(names[column], matrix[:, column]) for column in lost)
    return Design(tuple(names[column] for column in kept), chosen, back, matrix[:, chosen] @ back, notes)


def _why(name: str, column: Floats) -> str:
    if np.ptp(column) == 0:
        return f"{name} is {column[0]:g} in every row, so its effect cannot be told; it was left out."
    return f"{name} says nothing that the terms before it do not, so its effect cannot be told; it was left out."
