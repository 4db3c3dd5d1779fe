"""Fits to many data: parameters from blocks of neighbours, non-detects drawn block by block."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from geoprofile.kriging.covariance.anisotropy_frame import Frame
from geoprofile.kriging.covariance.data import Data, Parameters, Prior
from geoprofile.kriging.fit.censoring import DRAWS, first_draws, sweep
from geoprofile.kriging.fit.estimation import Belief, maximise, objective, search
from geoprofile.kriging.fit.validation import left_out
from geoprofile.kriging.predict.predictor import Member
from geoprofile.kriging.solve.local import compact_order
from geoprofile.kriging.solve.system import Layout, System
from geoprofile.kriging.solve.trend import Mean
from geoprofile.threads import one_thread_each, own_processors

Array = NDArray[np.float64]
Index = NDArray[np.intp]
MeanOf = Callable[[Parameters], Mean]

# More data than this are never solved for as a whole while parameters are tried.
MOST_WHOLE = 2000
# More than this are looked at in blocks while parameters are tried, however they are solved for.
MOST_TOGETHER = 600
# Data of a block, and those around it that its non-detects are drawn beside.
BLOCK, HALO = 400, 100
# Blocks that parameters are found from, spread over the site: 4800 data say all there is to say.
MOST_BLOCKS = 12
ROUNDS, SWEEPS, LAST_SWEEPS = 4, 5, 20
# Data around each datum of a borehole left out.
NEAR = 80


@dataclass(frozen=True, eq=False)
class Neighbourhood:
    """Rows of a block, shape (k,), and after them those of its halo: `rows` (k + h,)."""

    rows: Index
    own: int
    data: Data

    @classmethod
    def of(cls, data: Data, own: Index, around: Index) -> Neighbourhood:
        """A block of the data; non-detects of its halo count as known at their present draws."""
        rows = np.concatenate([own, np.setdiff1d(around, own)])
        some = data.take(rows)
        value = np.array(some.value)
        value[len(own) :] = np.nan_to_num(value[len(own) :])
        return cls(rows, len(own), replace(some, value=value))

    def drawn(
        self, values: Array, mean: Mean, p: Parameters, *, sweeps: int, rng: np.random.Generator
    ) -> Array:
        """New draws of the block's own non-detects, shape (k, d) [log10 unit]."""
        system = System.build(Layout.of(self.data, mean, p), p)
        here = sweep(self.data, values[self.rows], system.projection, sweeps=sweeps, rng=rng)
        return here[: self.own]


def fit_in_blocks(
    data: Data,
    prior: Prior,
    begin: list[Parameters],
    mean: MeanOf,
    rng: np.random.Generator,
) -> Member:
    """Fit many data.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    prior : Prior
        Centred on the data.
    begin : list of Parameters
        Where the search begins; lengths [m].
    mean : callable
        From parameters to the mean of the field.
    rng : Generator
        Source of chance.

    Returns
    -------
    Member
        With parameters that make some blocks of neighbours most probable together, and draws of
        all non-detects.

    Notes
    -----
    The likelihood is the product of the blocks' own: what data of different blocks say of each
    other is left out, which costs a little precision and no bias. Each block's non-detects are
    drawn given the present values in and around it.

    References
    ----------
    Caragea & Smith (2007), block composite likelihood; Stein, Chi & Welty (2004), from memory.
    """
    hoods = neighbourhoods(data, begin[0])
    some = hoods[:: -(-len(hoods) // MOST_BLOCKS)]
    values = first_draws(data, DRAWS, rng)
    with one_thread_each():
        found = [maximise_blocks(some, values, prior, one, mean) for one in begin]
        parameters = min(found, key=lambda one: one[1])[0]
        for _ in range(ROUNDS if data.censored.any() else 1):
            _draw(some, values, mean(parameters), parameters, SWEEPS, rng)
            parameters, _ = maximise_blocks(some, values, prior, parameters, mean)
        parameters = replace(parameters, azimuth_deg=parameters.azimuth_deg % 360.0)
        _draw(hoods, values, mean(parameters), parameters, LAST_SWEEPS, rng)
    return Member(data, parameters, mean(parameters), values)


def neighbourhoods(data: Data, parameters: Parameters) -> list[Neighbourhood]:
    """All data in blocks of neighbours.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    parameters : Parameters
        Lengths [m] by which nearness is judged.

    Returns
    -------
    list of Neighbourhood
        Of up to `BLOCK` data and `HALO` around them [-].
    """
    centre = data.support.centre
    placed = Frame.of(parameters, centre.mean(0), data.strata).place(centre)
    order, tree = compact_order(placed, BLOCK), cKDTree(placed)
    found = []
    for first in range(0, len(order), BLOCK):
        own = order[first : first + BLOCK]
        middle = placed[own].mean(0)
        count = min(len(own) + HALO, len(data))
        found.append(Neighbourhood.of(data, own, tree.query(middle, count)[1]))
    return found


def best_parameters(
    data: Data, values: Array, prior: Prior, start: Parameters, mean: Mean, *, rounds: int = 40
) -> tuple[Parameters, float]:
    """The most probable parameters: from all data together, or from blocks where they are many.

    Parameters
    ----------
    data : Data
        Shape (n,) [log10 unit].
    values : Array, shape (n, d) [log10 unit]
        With d draws of the non-detects, less the mean's known part.
    prior : Prior
        Centred on the data.
    start : Parameters
        Where the search begins; lengths [m].
    mean : Mean
        Of the field.
    rounds : int [-]
        Most iterations.

    Returns
    -------
    tuple of Parameters and float [-]
        Best parameters, and their minus log posterior density.
    """
    if len(data) <= MOST_TOGETHER:
        return maximise(Layout.of(data, mean, start), values, prior, start, rounds=rounds)
    hoods = neighbourhoods(data, start)
    return maximise_blocks(hoods, values, prior, start, lambda _: mean, rounds=rounds)


def maximise_blocks(
    hoods: list[Neighbourhood],
    values: Array,
    prior: Prior,
    start: Parameters,
    mean: MeanOf,
    *,
    rounds: int = 40,
) -> tuple[Parameters, float]:
    """The parameters that make blocks most probable together.

    Parameters
    ----------
    hoods : list of Neighbourhood
        Whose own data are used [-].
    values : Array, shape (n, d) [log10 unit]
        Of all data, with d draws of the non-detects.
    prior : Prior
        Centred on the data.
    start : Parameters
        Where the search begins; lengths [m].
    mean : callable
        From parameters to the mean of the field.
    rounds : int [-]
        Most iterations.

    Returns
    -------
    tuple of Parameters and float [-]
        Best parameters, and their minus log posterior density.
    """
    belief = Belief.of(prior)
    own = [hood.rows[: hood.own] for hood in hoods]
    parts = [hood.data.take(np.arange(hood.own)) for hood in hoods]
    layouts = [Layout.of(part, mean(start), start) for part in parts]

    def cost(vector: Array) -> tuple[float, Array]:
        def of(one: int) -> tuple[float, Array]:
            return objective(vector, layouts[one], values[own[one]], belief, start)

        found = list(pool.map(of, range(len(own))))
        again, slope = belief.cost(vector)
        spare = len(own) - 1  # the prior counts once
        value = sum(part for part, _ in found) - spare * again
        return value, np.sum([part for _, part in found], axis=0) - spare * slope

    with ThreadPoolExecutor(own_processors()) as pool:
        return search(cost, belief, start, rounds=rounds)


def left_out_nearby(member: Member) -> tuple[Array, Array]:
    """Each borehole predicted from the data around it in other boreholes.

    Parameters
    ----------
    member : Member
        Of n data [log10 unit].

    Returns
    -------
    tuple of Array, shape (n, d) and (n,) [log10 unit]
        Mean of each draw and sd of the test.

    Notes
    -----
    In closed form from all other data where they are few.
    """
    if len(member.data) <= MOST_WHOLE:
        return left_out(member)
    data, tree = member.data, member.system.tree
    group = np.asarray(data.group)
    means, sd = np.empty_like(member.values), np.empty(len(data))
    with one_thread_each():
        for borehole in np.unique(group):
            rows = np.flatnonzero(group == borehole)
            near = np.unique(tree.query(tree.data[rows], min(NEAR + len(rows), len(data)))[1])
            near = near[group[near] != borehole]
            if not near.size:
                near = np.flatnonzero(group != borehole)[:NEAR]
            other = replace(member, data=data.take(near), values=member.values[near])
            means[rows], variance = other.at(data.support.take(rows))
            noise = member.parameters.nugget + np.asarray(data.variance)[rows]
            sd[rows] = np.sqrt(variance + noise)
    return means, sd


def _draw(
    hoods: list[Neighbourhood],
    values: Array,
    mean: Mean,
    parameters: Parameters,
    sweeps: int,
    rng: np.random.Generator,
) -> None:
    """New draws of the non-detects of some blocks, written into the values."""
    if values.shape[1] == 1:
        return
    for hood in hoods:
        values[hood.rows[: hood.own]] = hood.drawn(values, mean, parameters, sweeps=sweeps, rng=rng)
