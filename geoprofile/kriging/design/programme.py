"""A list of field work for a budget: several questions at once, costs that come once, two ahead."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from geoprofile.kriging.covariance.support import Support
from geoprofile.kriging.design.current_state import CurrentState
from geoprofile.kriging.design.predictive import noise_of_tests
from geoprofile.kriging.design.preposterior import Joint
from geoprofile.kriging.design.selection import open_cells, wrong_now
from geoprofile.kriging.predict.model import Model

Array = NDArray[np.float64]
Rows = NDArray[np.intp]

LOOK = 6  # first steps that are followed by a second one
SECONDS = 24  # second steps that are tried for each
LEAST_SHARE = 1e-3  # [-] of what is uncertain now: a step that teaches less is none
SPENT, LITTLE, NOT_WORTH, NO_MORE = "spent", "little", "not worth", "no more"


@dataclass(frozen=True, eq=False)
class Question:
    """What is asked of one quantity: `joint` of cells and work, `sizes` (n,) [m3] of the cells.

    `open_now` [m3] is the expected volume on the wrong side, of all cells.
    """

    joint: Joint
    sizes: Array
    open_now: float


@dataclass(frozen=True)
class Work:
    """One piece of field work: `rows` (k,) of the candidates that it tests, money and days.

    `needs` names what has to be paid once before it, such as a rig on site; `bars` are the numbers
    of other pieces that make no sense after it, such as a zone that overlaps. `sure` above 0 [-]
    says that results alone make it worth while, whatever shape was fitted; the highest comes first.
    """

    rows: tuple[int, ...]
    money: float
    days: float
    needs: tuple[str, ...] = ()
    bars: tuple[int, ...] = ()
    sure: float = 0.0


@dataclass(frozen=True)
class Limits:
    """`money` and `days` that there are, infinite if not limited; `value` [money per m3].

    `once` holds money and days of what has to be paid once. With a value, work that teaches less
    than it costs is left out.
    """

    money: float
    days: float
    once: dict[str, tuple[float, float]]
    value: float = 0.0


@dataclass(frozen=True)
class Step:
    """A chosen piece: number of the work, its money and days with what it needed.

    `gains` (q,) [m3] of every question, on top of the steps before it.
    """

    work: int
    money: float
    days: float
    gains: tuple[float, ...]


@dataclass(frozen=True)
class Programme:
    """The steps in order, and why there are no more."""

    steps: tuple[Step, ...]
    stop: str


def question(
    model: Model,
    candidates: Support,
    cells: Array,
    threshold: float | None,
    *,
    volume: Array,
) -> Question:
    """Everything that the choice needs of one quantity.

    Parameters
    ----------
    model : Model
        Fitted.
    candidates : Support
        m tests that could be made [m], the same for every quantity.
    cells : Array, shape (n, 3) [m]
        Where it matters to be right.
    threshold : float [log10 unit]
        That separates right from wrong; None: the variance of the field is to fall.
    volume : Array, shape (n,) [m3]
        Of each cell.

    Returns
    -------
    Question
        Before any new test.
    """
    state = CurrentState.of(model, cells, threshold)
    rows = open_cells(state)
    noise = np.full(len(candidates), noise_of_tests(model))
    joint = Joint.of(
        model, candidates, cells[rows], state.take(rows), noise, threshold=threshold is not None
    )
    return Question(joint, volume[rows], float(volume @ wrong_now(model, state, threshold)))


def programme(questions: Sequence[Question], works: Sequence[Work], limits: Limits) -> Programme:
    """Choose field work one after the other, each step with a look at the best one after it.

    Parameters
    ----------
    questions : sequence of Question
        One or more; gains [m3] of all add up.
    works : sequence of Work
        What could be done.
    limits : Limits
        Budget, and what is paid once.

    Returns
    -------
    Programme
        All chosen before any result comes, as under the delay of a laboratory.

    Notes
    -----
    A step is the first of that pair which teaches most for its cost, where a cost that is paid
    once (the rig) is shared by both. Where no pair can be paid, the best single one. Every second
    step is the surest of those pieces that need no model, while there are any: the fitted shape
    may be wrong, and a list that follows it alone tests where it is in doubt and nowhere else.

    References
    ----------
    Chevalier et al. (2014) for the gain of several tests together, from memory; the look ahead by
    pairs is our own.
    """
    steps: list[Step] = []
    for best in in_order(questions, works, limits):
        if isinstance(best, str):
            break
        steps.append(best)
    return Programme(tuple(steps), str(best))


def in_order(
    questions: Sequence[Question], works: Sequence[Work], limits: Limits
) -> Iterator[Step | str]:
    """The steps of a programme one by one, for whoever needs only the first of them.

    Parameters
    ----------
    questions, works, limits
        As for `programme`.

    Yields
    ------
    Step or str
        Every step, at last the reason why there are no more.
    """
    state = _State.start(questions, works, limits)
    for number in itertools.count():
        state.refresh()
        best = state.best()
        if isinstance(best, str):
            yield best
            return
        yield state.take(state.surest(best) if number % 2 else best)


@dataclass(eq=False)
class _State:
    """What is chosen and paid so far; `gains` (q, w) [m3] of every piece on top of it."""

    questions: list[Question]
    works: Sequence[Work]
    limits: Limits
    gains: Array
    free: NDArray[np.bool_]
    paid: frozenset[str]
    money: float
    days: float

    @classmethod
    def start(cls, questions: Sequence[Question], works: Sequence[Work], limits: Limits) -> _State:
        return cls(
            [replace(q, joint=replace(q.joint)) for q in questions],
            works,
            limits,
            np.zeros((len(questions), len(works))),
            np.ones(len(works), dtype=bool),
            frozenset(),
            limits.money,
            limits.days,
        )

    def copy(self) -> _State:
        """A state that can go on by itself."""
        return replace(
            self,
            questions=[replace(q, joint=replace(q.joint)) for q in self.questions],
            gains=self.gains.copy(),
            free=self.free.copy(),
        )

    def price(self, work: int) -> tuple[float, float]:
        """Money and days of a piece with what is still to be paid once."""
        one = self.works[work]
        once = [self.limits.once.get(n, (0.0, 0.0)) for n in one.needs if n not in self.paid]
        return one.money + sum(m for m, _ in once), one.days + sum(d for _, d in once)

    def can_pay(self, work: int) -> bool:
        money, days = self.price(work)
        return money <= self.money + 1e-9 and days <= self.days + 1e-9

    def refresh(self, some: Sequence[int] | None = None) -> None:
        """Gains of the pieces that are free, or of some of them."""
        wanted = np.flatnonzero(self.free) if some is None else np.asarray(some, dtype=np.intp)
        if not len(wanted):
            return
        rows = [np.asarray(self.works[k].rows, dtype=np.intp) for k in wanted]
        for number, one in enumerate(self.questions):
            self.gains[number, wanted] = one.joint.gain(rows, one.sizes, None)

    def gain(self, work: int) -> float:
        return float(self.gains[:, work].sum())

    def order(self) -> list[int]:
        """Free pieces that can be paid, most gain for their cost first."""
        here = [int(k) for k in np.flatnonzero(self.free) if self.can_pay(int(k))]
        return sorted(here, key=lambda k: -self.gain(k) / max(self.price(k)[0], 1e-9))

    def is_too_little(self, work: int) -> bool:
        all_open = sum(q.open_now for q in self.questions)
        return bool(self.gain(work) < LEAST_SHARE * all_open)

    def pays(self, gain: float, money: float) -> bool:
        return not self.limits.value or gain * self.limits.value >= money

    def best(self) -> int | str:
        """The next piece, or why there is none."""
        if not self.free.any():
            return NO_MORE
        order = self.order()
        if not order:
            return SPENT
        useful = [k for k in order if not self.is_too_little(k)]
        if not useful:
            return LITTLE
        found: list[tuple[float, int]] = []
        for first in useful[:LOOK]:
            money, gain = self.price(first)[0], self.gain(first)
            more_money, more = self._second(first)
            # a pair is worth a look only where both together pay; alone a step may pay as well
            for cost, taught in ((money, gain), (money + more_money, gain + more)):
                if self.pays(taught, cost):
                    found.append((taught / max(cost, 1e-9), first))
        return max(found, key=lambda f: (f[0], -f[1]))[1] if found else NOT_WORTH

    def surest(self, otherwise: int) -> int:
        """The piece that is worth most whatever the shape, if one can be paid; else the other."""
        sure = [k for k in self.order() if self.works[k].sure > 0]
        sure = [k for k in sure if self.pays(self.gain(k), self.price(k)[0])]
        return max(sure, key=lambda k: self.works[k].sure, default=otherwise)

    def _second(self, first: int) -> tuple[float, float]:
        """Money and gain of the best piece after a first one; nothing where none can be paid."""
        then = self.copy()
        then.take(first)
        # gains found before count as bounds: what is known already is not learnt twice
        tried = then.order()[:SECONDS]
        if not tried:
            return 0.0, 0.0
        then.refresh(tried)
        best = min(tried, key=lambda k: -then.gain(k) / max(then.price(k)[0], 1e-9))
        return then.price(best)[0], then.gain(best)

    def take(self, work: int) -> Step:
        """Do a piece: pay it, learn from it, and leave out what tests the same ground."""
        money, days = self.price(work)
        step = Step(work, money, days, tuple(float(g) for g in self.gains[:, work]))
        rows = np.asarray(self.works[work].rows, dtype=np.intp)
        for one in self.questions:
            one.joint.accept(rows)
        self.free[[work, *self.works[work].bars]] = False
        self.paid |= set(self.works[work].needs)
        self.money -= money
        self.days -= days
        return step
