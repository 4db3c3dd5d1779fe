"""Random walks of two hands: which of a thousand orders of events loses or hides a value?"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from geoprofile.testing.hands import ALWAYS, KEYS, LOCKED, MOMENTS, Act, Yard, copy_of
from geoprofile.testing.mishaps import CAN_HAPPEN, HALF_SAVED, SAVED

VALUES = (10.0, 20.0, 30.0, 40.0)
PREFER = (None, None, "files", "database")


@dataclass
class Tally:
    """Pairs of commands that were interleaved, and what was amiss, in words."""

    pairs: int = 0
    amiss: list[str] = field(default_factory=list)


def commands(yard: Yard, pick: Callable[[int], int]) -> list[Callable[[], Act]]:
    """Everything that a hand can do, the details picked: `pick(n)` gives a number below n."""

    def value(key: Any) -> float | None:
        number = pick(len(VALUES) + 1)
        return VALUES[number % len(VALUES)] if key in ALWAYS or number < len(VALUES) else None

    def edit() -> Act:
        key = KEYS[pick(len(KEYS))]
        return yard.edit(key, value(key))

    def change_file() -> Act:
        key = KEYS[pick(len(KEYS))]
        return yard.change_file(key, value(key))

    def load() -> Act:
        return yard.load(PREFER[pick(len(PREFER))], prune=pick(3) == 0)

    def restore() -> Act:
        return yard.restore(pick(8))

    def lose_editor() -> Act:
        key = KEYS[pick(len(KEYS))]
        return yard.lose_editor(key, value(key), LEFT[pick(len(LEFT))])

    def exchange() -> Act:
        return yard.exchange(pick(8), LEFT[pick(len(LEFT))])

    def fill_disk() -> Act:
        return yard.fill_disk(pick(8))

    words = [load, yard.run, yard.compute, restore, yard.migrate, yard.age]
    mishaps = [lose_editor, fill_disk, exchange] if CAN_HAPPEN else []
    return [edit, change_file, *words, *mishaps]


# how often a hand does what: mostly what is done all day
WEIGHTS = (6, 4, 4, 3, 3, 2, 1, 1, *((3, 3) if CAN_HAPPEN else ()))
COMMANDS = slice(2, 8)  # of them: what others can come in between of
LEFT = (SAVED, HALF_SAVED)


def walk(template: Yard, folder: Path, seed: int, pairs: int) -> Tally:
    """Interleave so many pairs of commands in one folder, then settle; what was amiss is told."""
    chance, tally = random.Random(seed), Tally()  # noqa: S311  nothing secret
    yard = copy_of(template, folder)
    moments = [*MOMENTS, *MOMENTS, *LOCKED]
    for number in range(pairs):
        choice = commands(yard, lambda n: chance.randrange(n))
        first = chance.choices(choice[COMMANDS], WEIGHTS[COMMANDS])[0]()
        moment = chance.choice(moments)
        # within a transaction only an editing program tries, as it does not open the file anew
        some = (*choice[:1], *choice[9:10]) if moment in LOCKED else choice[: len(WEIGHTS)]
        second = chance.choices(some, WEIGHTS[: len(some)])[0]()
        try:
            # what is done between two commands gives the next pair something to meet
            for before in chance.choices((*choice[:2] * 3, *choice[8:9], *choice[10:]), k=2):
                yard.together(before())
            yard.together(first, second, moment)
            tally.pairs += 1
            if number % 4 == 3:
                yard.take_copy()
                yard.settle()
        except AssertionError as error:
            tally.amiss.append(f"seed {seed}, pair {number}: {error}")
            return tally
        except Exception as error:
            tally.amiss.append(f"seed {seed}, pair {number}: {first.words} | {error!r}")
            return tally
    return tally


def machine(template: Callable[[], Yard], folder: Callable[[], Path]) -> type:
    """A state machine of `hypothesis`, which shrinks what goes wrong to the fewest commands.

    Parameters
    ----------
    template : callable
        Gives a yard that is copied for each example.
    folder : callable
        Gives a new place each time.

    Returns
    -------
    type
        A `RuleBasedStateMachine`; its `TestCase` runs it.
    """
    from hypothesis import strategies as st
    from hypothesis.stateful import RuleBasedStateMachine, rule

    numbers = st.lists(st.integers(0, 5), min_size=3, max_size=3)
    whole = st.integers(COMMANDS.start, COMMANDS.stop - 1)
    between = (0, 1, 8, 10) if CAN_HAPPEN else (0, 1)

    def act(yard: Yard, what: int, details: list[int]) -> Act:
        left = iter(details)
        return commands(yard, lambda n: next(left, 0) % n)[what]()

    class TwoHands(RuleBasedStateMachine):
        """Any order of commands, and each at any moment of another."""

        def __init__(self) -> None:
            super().__init__()
            self.yard = copy_of(template(), folder())

        @rule(what=st.sampled_from(between), details=numbers)
        def alone(self, what: int, details: list[int]) -> None:
            """A row of the site file or of a file is saved, or an editor is killed."""
            self.yard.together(act(self.yard, what, details))

        @rule(
            first=whole,
            second=st.integers(0, len(WEIGHTS) - 1),
            moment=st.sampled_from(sorted(MOMENTS)),
            details=numbers,
            others=numbers,
        )
        def both(
            self, first: int, second: int, moment: str, details: list[int], others: list[int]
        ) -> None:
            """A command, and another at a moment of it."""
            self.yard.together(
                act(self.yard, first, details), act(self.yard, second, others), moment
            )

        @rule()
        def copy(self) -> None:
            """A copy that can be put back."""
            self.yard.take_copy()

        def teardown(self) -> None:
            """In the end everything is up to date, and every difference told."""
            self.yard.settle()

    return TwoHands
