"""Laws of the store: what goes in comes out, order does not matter, noise never crashes it."""

from __future__ import annotations

import contextlib

import geopandas as gpd
import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from geoprofile.store import Changes, Store, inspect
from geoprofile.store.blobs import BlobError, Walk, bounds_of_blob, decode, encode
from geoprofile.store.connection import quoted

QUICK = settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
number = st.floats(-1e7, 1e7, allow_nan=False, width=64)
# what people type: letters of any script, quotes, brackets, leading zeros, no control characters
name = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), min_size=1, max_size=12
)


@pytest.fixture
def store(tmp_path):
    """An empty site file."""
    return Store.create(
        tmp_path / "site.gpkg", name="Laws", crs="EPSG:32631", vertical_datum="d", overwrite=True
    )


def boreholes(rows):
    frame = pd.DataFrame(
        rows, columns=["borehole", "x", "y", "ground_elevation_m", "depth_m", "remarks"]
    )
    return frame.astype({"borehole": object, "remarks": object})


row = st.tuples(
    name,
    number,
    number,
    st.floats(-500, 9000),
    st.floats(0, 1e5, exclude_min=True),
    st.none() | name,
)


@QUICK
@given(rows=st.lists(row, max_size=8, unique_by=lambda r: r[0]), seed=st.integers(0, 99))
def test_rows_come_back_as_they_went_in_whatever_their_order(store, rows, seed):
    """Load then read gives the same rows; the fingerprint does not see the order of loading."""
    gone = [(k,) for (k,) in store.rows("borehole", ["borehole"])]
    store.write(Changes("clear", deletes={"borehole": gone}))
    store.write(Changes("load", upserts={"borehole": boreholes(rows)}))
    first = store.fingerprint("borehole")
    found = store.rows(
        "borehole", ["borehole", "x", "y", "ground_elevation_m", "depth_m", "remarks"]
    )
    assert sorted(found) == sorted(rows, key=lambda r: r[0])
    store.write(Changes("clear", deletes={"borehole": [(r[0],) for r in rows]}))
    shuffled = [rows[i] for i in np.random.default_rng(seed).permutation(len(rows))]
    store.write(Changes("load", upserts={"borehole": boreholes(shuffled)}))
    assert store.fingerprint("borehole") == first
    assert [f for f in inspect(store.path) if f.severity == "error"] == []


@QUICK
@given(
    steps=st.lists(
        st.tuples(st.sampled_from("ABC"), st.sampled_from(["load", "drop"]), number),
        max_size=6,
    )
)
def test_upserts_and_deletes_do_what_a_dictionary_does(store, steps):
    """Any sequence of loads and deletes leaves the last value of each key."""
    store.write(Changes("clear", deletes={"borehole": [("A",), ("B",), ("C",)]}))
    model = {}
    for key, what, x in steps:
        if what == "load":
            model[key] = x
            frame = boreholes([(key, x, 0.0, 1.0, 2.0, None)])
            store.write(Changes("load", upserts={"borehole": frame}))
        else:
            model.pop(key, None)
            store.write(Changes("load", deletes={"borehole": [(key,)]}))
    assert dict(store.rows("borehole", ["borehole", "x"])) == model


lines = st.lists(st.tuples(number, number, number), min_size=2, max_size=6)


@given(coordinates=st.lists(lines, min_size=1, max_size=5), srs_id=st.integers(-1, 2**31 - 1))
def test_shapes_survive_the_blob_with_their_boxes(coordinates, srs_id):
    """Coordinates are kept to the last bit, and three ways to the box agree."""
    shapes = np.array([shapely.LineString(c) for c in coordinates], dtype=object)
    blobs = encode(shapes, srs_id)
    back = decode(blobs)
    for shape, blob, other in zip(shapes, blobs, back, strict=True):
        assert list(shape.coords) == list(other.coords)
        box = bounds_of_blob(blob)
        assert box == Walk(blob, 40).box
        assert (box[0], box[2], box[1], box[3]) == shape.bounds


@given(st.binary(max_size=200))
def test_noise_is_refused_and_never_crashes(data):
    """Random bytes are told as no blob, at once."""
    assert bounds_of_blob(data) is None or data[:2] == b"GP"
    with pytest.raises(BlobError):
        decode([b"XP" + data])
    with contextlib.suppress(BlobError):
        Walk(data)


@given(st.integers(0, 200), st.integers(0, 255))
def test_one_wrong_byte_is_refused_or_read(place, value):
    """A flipped byte in a good blob gives another shape or an error of ours, never a crash."""
    shape = shapely.box(0, 0, 10, 10)
    (blob,) = encode(np.array([shape], dtype=object), 4326)
    broken = bytearray(blob)
    broken[place % len(blob)] = value
    try:
        decode([bytes(broken)])
        Walk(bytes(broken), 40)
    except BlobError:
        pass


@given(st.text(st.characters(exclude_categories=("Cs",)), max_size=30))
def test_a_quoted_name_is_one_identifier(text):
    """Inside its quotes every quote is doubled, so that no name ends them."""
    if "\x00" in text:
        return
    inside = quoted(text)[1:-1]
    assert inside.replace('""', "").count('"') == 0
    assert inside.replace('""', '"') == text


@QUICK
@given(count=st.integers(0, 30), seed=st.integers(0, 999))
def test_another_library_reads_the_same_layer(store, count, seed):
    """What pyogrio reads is what was written: rows, elevations, values."""
    rng = np.random.default_rng(seed)
    corner = np.array([5e5, 5.7e6, 0.0])
    shapes = shapely.linestrings(rng.uniform(0, 100, (count, 3, 3)) + corner) if count else []
    frame = gpd.GeoDataFrame(
        {"borehole": [f"B{i}" for i in range(count)], "length_m": rng.uniform(1, 9, count)},
        geometry=list(shapes),
    )
    store.write(Changes("run", derived={"borehole_path": frame}))
    other = gpd.read_file(store.path, layer="borehole_path", engine="pyogrio")
    assert other["borehole"].tolist() == frame["borehole"].tolist()
    np.testing.assert_array_equal(other["length_m"].to_numpy(float), frame["length_m"])
    np.testing.assert_array_equal(
        shapely.get_coordinates(other.geometry, include_z=True),
        shapely.get_coordinates(frame.geometry, include_z=True),
    )
