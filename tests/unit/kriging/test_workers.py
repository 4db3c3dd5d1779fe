"""Whoever computes the cells, the numbers are the same to the last bit."""

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.errors import UsageError

LATTICE = kriging.Lattice(origin=(5.0, 5.0, -20.0), step=(12.0, 11.0, 2.0), count=(31, 27, 11))


@pytest.fixture(scope="module")
def many():
    """700 values, so that the variance of each block is local."""
    rng = np.random.default_rng(1)
    places = rng.uniform([0, 0, -20], [370, 300, 0], (700, 3))
    parameters = kriging.Parameters(
        sill=0.5, nugget=0.05, length_along_m=60, length_across_m=30, length_vertical_m=3
    )
    data = kriging.Data(support=kriging.Support.from_points(places), value=rng.normal(size=700))
    return kriging.krige(data, parameters)


def written_out(lattice):
    """Every cell of a lattice, easting fastest."""
    parts = zip(lattice.origin, lattice.step, lattice.count, strict=True)
    axes = [origin + step * np.arange(count) for origin, step, count in parts]
    z, y, x = np.meshgrid(*axes[::-1], indexing="ij")
    return np.column_stack([x.ravel(), y.ravel(), z.ravel()])


def test_threads_and_processes_submit_the_same_bits(many, fitted):
    """One thread, three threads, two processes; data many or few; a mixture, too."""
    plain = [many.predict(LATTICE, workers=1), fitted.both(LATTICE, 0.3, workers=1)]
    threads = [many.predict(LATTICE, workers=3), fitted.both(LATTICE, 0.3, workers=3)]
    with kriging.processes(2):
        sent = [many.predict(LATTICE), fitted.both(LATTICE, 0.3)]
        again = kriging.predict_over(many, written_out(LATTICE))
    for others in (threads, sent):
        for one, other in zip(plain, others, strict=True):
            for name in vars(one):
                np.testing.assert_array_equal(getattr(one, name), getattr(other, name))
    np.testing.assert_array_equal(again.sd, many.predict(written_out(LATTICE), workers=1).sd)


def test_a_cluster_gives_the_same_bits(many):
    """Two workers of a local dask cluster, each with two threads."""
    distributed = pytest.importorskip("distributed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=2, dashboard_address=None
        ) as local,
        distributed.Client(local) as client,
    ):
        found = kriging.predict_over(many, LATTICE, client=client)
    plain = many.predict(LATTICE, workers=1)
    np.testing.assert_array_equal(found.mean, plain.mean)
    np.testing.assert_array_equal(found.sd, plain.sd)


def test_a_lattice_is_its_cells(many):
    """Values stand with easting fastest; the mean is that of the cells written out."""
    listed = many.predict(written_out(LATTICE))
    found = many.predict(LATTICE)
    np.testing.assert_allclose(found.mean, listed.mean, atol=1e-5)  # single precision
    np.testing.assert_allclose(found.sd, listed.sd, rtol=0.03)  # other blocks, other neighbours


@pytest.mark.parametrize("count", [(1, 1, 1), (600, 1, 1), (3, 1, 700), (17, 19, 23)])
def test_boxes_hold_every_cell_once(many, count):
    """The blocks' rows are all cells, none twice."""
    lattice = kriging.Lattice(origin=(0, 0, 0), step=(5.0, -5.0, 0.5), count=count)
    blocks = lattice.cut(many.frame, compact=True)
    rows = np.concatenate([blocks.rows(block) for block in range(len(blocks))])
    np.testing.assert_array_equal(np.sort(rows), np.arange(len(lattice)))
    np.testing.assert_array_equal(blocks.places(np.arange(len(lattice))), written_out(lattice))


def test_results_may_go_to_a_file(many, tmp_path):
    """Columns mapped from files take the values, rounded to their precision."""
    out = tuple(
        np.memmap(tmp_path / name, dtype=np.float32, mode="w+", shape=(len(LATTICE),))
        for name in ("mean", "sd")
    )
    found = kriging.predict_over(many, LATTICE, out=out)
    np.testing.assert_allclose(found.mean, many.predict(LATTICE).mean, rtol=1e-6, atol=1e-6)


def test_what_makes_no_sense_is_refused(many):
    """No cells, no workers, columns of another size: said in words."""
    with pytest.raises(UsageError, match="counts of 1 or more"):
        kriging.Lattice(origin=(0, 0, 0), step=(1, 1, 1), count=(0, 1, 1))
    with pytest.raises(UsageError, match="1 or more"):
        kriging.predict_over(many, LATTICE, workers=0)
    with pytest.raises(UsageError, match="one of them"):
        kriging.predict_over(many, LATTICE, workers=2, client=object())
    with pytest.raises(UsageError, match="2 arrays"):
        kriging.predict_over(many, LATTICE, out=(np.empty(3), np.empty(3)))
