"""Random data under known parameters, a million cells, and what work costs."""

import platform
import time
from dataclasses import dataclass

import numpy as np
from threadpoolctl import threadpool_info

from geoprofile import kriging
from geoprofile.threads import own_processors

MILLION = 1_000_000
AXES = (
    np.linspace(0, 400, 200),
    np.linspace(0, 400, 200),
    np.linspace(0, 30, 25),
)
KNOWN = kriging.Parameters(
    sill=1.0, nugget=0.1, length_along_m=80, length_across_m=40, length_vertical_m=4
)


def known(count):
    """A model with known parameters on random data."""
    rng = np.random.default_rng(count)
    places = rng.uniform([0, 0, 0], [400, 400, 30], (count, 3))
    support = kriging.Support.from_points(places)
    return kriging.krige(kriging.Data(support=support, value=rng.normal(size=count)), KNOWN)


def grid():
    """A million cells, written out."""
    return np.stack(np.meshgrid(*AXES, indexing="ij"), axis=-1).reshape(-1, 3)


def turned(places):
    """Places with the axes as the peers take them (long axis first)."""
    return places[:, [1, 0, 2]]


@dataclass(frozen=True)
class Cost:
    """Seconds on the clock, and of all processors together: only these bear a busy machine."""

    clock: float
    processor: float

    def times(self, factor):
        """Of so many times the work."""
        return Cost(self.clock * factor, self.processor * factor)

    @property
    def idle(self):
        """Seconds on the clock were the machine idle and the threads all busy."""
        return self.processor / own_processors()

    def __str__(self):
        """For the printed table."""
        return f"{self.clock:.2f} s ({self.processor:.2f} s of processors)"


def cost(work):
    """What work takes."""
    clock, processor = time.perf_counter(), time.process_time()
    work()
    return Cost(time.perf_counter() - clock, time.process_time() - processor)


def machine():
    """Processors and the kernel that BLAS runs on, told beside every ratio."""
    kernels = {f"{one['internal_api']} {one.get('architecture')}" for one in threadpool_info()}
    return f"{platform.machine()}, {own_processors()} processors, {', '.join(sorted(kernels))}"


def told(name, ours, theirs):
    """Print a ratio of processor time, in which threads bring no advantage, and give it back."""
    ratio = theirs.processor / ours.processor
    print(f"\n{name}: ours {ours}, theirs {theirs} (scaled), ratio {ratio:.1f}; {machine()}")
    return ratio
