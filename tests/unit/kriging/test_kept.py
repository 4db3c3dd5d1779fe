"""A model that remembers gives the same bits, computes once, and lets nobody change its memory."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest

from geoprofile import kriging
from geoprofile.kriging.predict.kept import Kept, Pool


@pytest.fixture(scope="module")
def plain() -> kriging.Model:
    """A field of 30 values along a line of wells."""
    rng = np.random.default_rng(3)
    xyz = rng.uniform(0.0, 100.0, (30, 3))
    lines = [np.stack([place, place - [0.0, 0.0, 1.0]]) for place in xyz]
    data = kriging.Data(support=kriging.Support.from_lines(lines), value=rng.normal(size=30))
    return kriging.fit(data, rng=np.random.default_rng(4))


@pytest.fixture
def remembering(plain: kriging.Model) -> tuple[kriging.Model, Pool, Pool]:
    """The same with pools of its own."""
    parts, answers = Pool(2**24), Pool(2**24)
    return replace(plain, kept=Kept("a", parts, answers)), parts, answers


def test_the_same_bits_and_only_once(plain, remembering) -> None:
    """Two questions about the same places ask the members once; the same one again asks nobody."""
    model, parts, answers = remembering
    xyz = np.random.default_rng(5).uniform(0.0, 100.0, (700, 3))
    for _ in range(2):
        found, bare = model.predict(xyz), plain.predict(xyz)
        np.testing.assert_array_equal(found.mean, bare.mean)
        np.testing.assert_array_equal(found.sd, bare.sd)
        np.testing.assert_array_equal(model.exceedance(xyz, 0.3), plain.exceedance(xyz, 0.3))
    assert len(parts.held) == 2  # blocks of 512
    assert len(answers.held) == 2  # questions


def test_answers_belong_to_who_asked(plain, remembering) -> None:
    """A caller may write into what it got."""
    model, _, _ = remembering
    xyz = np.random.default_rng(6).uniform(0.0, 100.0, (40, 3))
    model.exceedance(xyz, 0.0)[:] = 7.0
    np.testing.assert_array_equal(model.exceedance(xyz, 0.0), plain.exceedance(xyz, 0.0))


def test_levels_and_places_are_told_apart(remembering) -> None:
    """Another threshold, or the same cells in another order, is another question."""
    model, _, _ = remembering
    xyz = np.random.default_rng(7).uniform(0.0, 100.0, (40, 3))
    low, high = model.exceedance(xyz, -1.0), model.exceedance(xyz, 1.0)
    assert (low > high).all()
    np.testing.assert_array_equal(model.exceedance(xyz[::-1], 1.0), high[::-1])


def test_memory_is_bounded_and_the_oldest_goes() -> None:
    """1000 bytes hold one row of 100 numbers, not two; what is larger is not held."""
    pool = Pool(1000)
    pool.hold("a", (np.zeros(100),))
    pool.hold("b", (np.zeros(100),))
    assert pool.get("a") is None
    pool.hold("c", (np.zeros(1000),))
    assert pool.get("c") is None
    assert pool.get("b") is not None
    assert pool.bytes == 800


def test_what_is_held_is_not_written_to() -> None:
    """Whoever gets it gets the arrays themselves."""
    pool = Pool(1000)
    pool.hold("a", (np.zeros(3), (np.ones(2),)))
    one, (two,) = pool.get("a")
    assert not one.flags.writeable
    assert not two.flags.writeable


def test_the_name_alone_travels() -> None:
    """A model sent to another process does not carry what it remembers."""
    kept = Kept("name", Pool(10), Pool(10))
    assert len(pickle.dumps(kept)) < 200
    assert pickle.loads(pickle.dumps(kept)) == kept  # noqa: S301
