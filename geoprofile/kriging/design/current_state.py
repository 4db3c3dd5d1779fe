"""How cells stand before any new test: the chance of being wrong, and what each member says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from geoprofile.kriging.predict.doubt import narrowed
from geoprofile.kriging.predict.predictor import Member, PlumeMember
from geoprofile.kriging.predict.statistics import chance_above
from geoprofile.kriging.solve.blocks import in_blocks

if TYPE_CHECKING:
    from geoprofile.kriging.predict.model import Model

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

CELLS = 256
LEAST_CHANCE = 1e-12


@dataclass(frozen=True, eq=False)
class CurrentState:
    """How the cells stand before any new test.

    `apart` (n,) [-] is the distance from the threshold in standard deviations, as the chance of
    exceeding has it without the doubt about the model; `means` (k, n) [log10 unit] and `variance`
    (k, n) [log10 squared] are the members' with it: what is doubted, a test explains less of.
    """

    apart: Array
    means: Array
    variance: Array

    @classmethod
    def of(cls, model: Model, cells: Array, threshold: float | None) -> CurrentState:
        """Ask every member that has a weight.

        Parameters
        ----------
        model : Model
            Fitted.
        cells : Array, shape (n, 3) [m]
            Where.
        threshold : float [log10 unit]
            None: `apart` is zero.

        Returns
        -------
        CurrentState
            Of n cells and k members [-].
        """
        used = used_members(model)
        apart = np.zeros(len(cells))
        means, variance = np.empty((2, len(used), len(cells)))
        for _, member in used:
            member.prepare()
        high = model.high_values

        def compute(block: slice) -> None:
            parts = model.parts(cells[block])
            for row, (part, (_, member)) in enumerate(zip(parts, used, strict=True)):
                means[row, block] = part[1].mean(1)
                variance[row, block] = part[2] ** 2
                if isinstance(
                    member, Member
                ):  # draws of non-detects; the joint adds those of a plume
                    variance[row, block] += part[1].var(1)
            if threshold is not None:
                believed = narrowed(parts, model.sills, model.doubt)
                (above,) = chance_above(believed, threshold=threshold, high=high)
                apart[block] = ndtri(np.clip(above, LEAST_CHANCE, 1.0 - LEAST_CHANCE))

        in_blocks(len(cells), compute, cells=CELLS)
        return cls(apart, means, variance)

    def take(self, rows: Rows) -> CurrentState:
        """Some of the cells."""
        return CurrentState(self.apart[rows], self.means[:, rows], self.variance[:, rows])


def used_members(model: Model) -> list[tuple[float, Member | PlumeMember]]:
    """The members that have a weight, with it.

    Parameters
    ----------
    model : Model
        Fitted.

    Returns
    -------
    list of (float, Member or PlumeMember)
        Weight [-] and member.
    """
    return [(w, m) for w, m in zip(model.weights, model.members, strict=True) if w]
