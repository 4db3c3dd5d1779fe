"""Time of the advice on a large made-up site.

Run on request: pytest -m bench tests/bench/test_advice_bench.py -s
"""

import time

import numpy as np
import pytest

from geoprofile import kriging


def zones(rng, count):
    """Vertical intervals of 2 m at random places."""
    tops = rng.uniform([0, 0, -38], [400, 250, 0], (count, 3))
    return [np.array([top, top - [0, 0, 2.0]]) for top in tops]


@pytest.mark.bench
def test_batch_of_five_from_two_thousand_takes_ten_seconds() -> None:
    """Batch of 5 from 2000 candidates, 50 000 cells and 300 intervals."""
    rng = np.random.default_rng(4)
    tested = kriging.Support.from_lines(zones(rng, 300))
    x, _, z = tested.centre.T
    data = kriging.Data(
        support=tested,
        value=2.0 - x / 200.0 - ((z + 18.0) / 9.0) ** 2 + 0.4 * rng.normal(size=300),
        variance=np.full(300, 0.01),
        group=np.repeat(np.arange(30), 10),
    )
    model = kriging.fit(data, prior=kriging.Prior(azimuth_deg=90.0), mean="constant", rng=rng)
    cells = rng.uniform([0, 0, -40], [400, 250, 0], (50_000, 3))
    candidates = kriging.Support.from_lines(zones(rng, 2000))
    kriging.next_tests(model, candidates.take(np.arange(5)), cells[:500], 1.0, size=1)  # compiles
    start = time.process_time()
    batch = kriging.next_tests(model, candidates, cells, 1.0, volume=80.0, size=5)
    taken = time.process_time() - start
    print(f"{taken:.1f} s for a batch of {len(batch.index)}")
    assert taken < 10.0
