"""Names explained in the terminal."""

import pytest

from geoprofile.errors import UsageError
from geoprofile.reference.explain import explain, topics


def test_a_column_has_meaning_and_unit():
    """K with its unit and the layer that makes it."""
    words = explain("conductivity.k_m_per_s")
    assert "Hydraulic conductivity" in words
    assert "unit: m/s" in words
    assert "by layer conductivity" in words


def test_a_unit_that_stands_beside_is_named():
    """The value of a result has the unit of the column `unit`."""
    assert "as column unit says" in explain("result.value")


def test_a_method_names_its_source():
    """The source of the straight-line method of 1951."""
    words = explain("hvorslev")
    assert "1951" in words
    assert "falling head" in words


def test_a_name_with_two_meanings_has_both():
    """`model` is a table and a layer."""
    words = explain("model")
    assert "table model" in words
    assert "layer model" in words


def test_a_slip_is_answered_with_the_nearest_names():
    """One letter wrong."""
    with pytest.raises(UsageError, match=r"conductivity\.k_m_per_s"):
        explain("conductivty.k_m_per_s")


def test_every_topic_has_an_answer():
    """Tables, columns and plugins, none wider than the terminal's usual width."""
    for name in topics():
        assert explain(name)
