"""What is made of some tables: once as long as they are the same, and of no others."""

import gc
from typing import ClassVar
from weakref import ref

import pandas as pd
import pytest

from geoprofile.kept_while import made_of
from geoprofile.site import Site


@pytest.fixture
def counted():
    """A function of two tables, and the list of what it was called with."""
    calls = []

    @made_of("borehole", "interval", most=2)
    def count(site, more=0):
        calls.append(more)
        return len(site.table("borehole")), len(site.table("interval")), more

    return count, calls


def site_with(**tables):
    """A site of these tables."""
    return Site("A", "EPSG:25832", "datum", tables=tables)


def holes(*names):
    """Boreholes by name."""
    return pd.DataFrame({"borehole": list(names)})


def test_another_table_changes_nothing(counted):
    count, calls = counted
    site = site_with(borehole=holes("1", "2"), interval=holes("1"))
    assert count(site) == count(site.with_tables({"head": holes("1")})) == (2, 1, 0)
    assert count(site.part(("borehole", "interval", "survey"))) == (2, 1, 0)
    assert calls == [0]


def test_a_table_that_changed_is_read_again(counted):
    count, calls = counted
    site = site_with(borehole=holes("1", "2"), interval=holes("1"))
    assert count(site) == (2, 1, 0)
    assert count(site.with_tables({"borehole": holes("1")})) == (1, 1, 0)
    assert count(site.with_tables({"interval": holes()})) == (2, 0, 0)
    assert calls == [0, 0, 0]


def test_other_arguments_are_another_question(counted):
    count, calls = counted
    site = site_with(borehole=holes("1"), interval=holes("1"))
    assert [count(site, 1), count(site, more=2), count(site, 1)] == [
        (1, 1, 1),
        (1, 1, 2),
        (1, 1, 1),
    ]
    assert calls == [1, 2]
    count(site, 3)  # the first is forgotten
    count(site, more=2)
    assert calls == [1, 2, 3, 2]


def test_a_missing_table_is_empty_in_a_site_and_an_error_in_a_part(counted):
    count, _ = counted
    site = site_with(borehole=holes("1"))
    assert count(site) == (1, 0, 0)
    with pytest.raises(KeyError, match="interval"):
        count(site.part(("borehole",)))


def test_it_cannot_come_to_rest_on_more():
    @made_of("borehole")
    def greedy(site):
        return len(site.table("interval"))

    @made_of("borehole")
    def curious(site):
        return site.settings_of("model")

    site = site_with(borehole=holes("1"), interval=holes("1"))
    with pytest.raises(KeyError, match="interval"):
        greedy(site)
    with pytest.raises(KeyError, match="settings of model"):
        curious(site)


def test_what_failed_is_asked_again():
    answers = iter([ValueError("not yet"), 7])

    @made_of("borehole")
    def late(site):
        found = next(answers)
        if isinstance(found, Exception):
            raise found
        return found

    site = site_with(borehole=holes("1"))
    with pytest.raises(ValueError, match="not yet"):
        late(site)
    assert late(site) == late(site) == 7


def test_nothing_is_kept_longer_than_its_tables(counted):
    count, calls = counted
    site = site_with(borehole=holes("1"), interval=holes("1"))
    count(site)
    frame = ref(site.tables["interval"])
    del site
    gc.collect()
    assert frame() is None
    count(site_with(borehole=holes("1"), interval=holes("1")))
    assert calls == [0, 0]


def test_what_is_read_is_read_again_in_the_eyes_of_the_site():
    """A layer is held to the tables that it declares, whoever was there before it."""

    class Watched(Site):
        seen: ClassVar[list[str]] = []

        def table(self, name):
            self.seen.append(name)
            return super().table(name)

    @made_of("borehole", "interval", "head")
    def two(site):
        return len(site.table("borehole")), inner(site)

    @made_of("interval", "head")
    def inner(site):
        return len(site.table("interval"))

    site = Watched("A", "EPSG:25832", "datum", tables={"borehole": holes("1")})
    assert two(site) == (1, 0)
    assert Watched.seen == ["borehole", "interval"]
    assert two(site) == (1, 0)
    assert sorted(Watched.seen[2:]) == ["borehole", "interval"]
