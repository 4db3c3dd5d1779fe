"""What it takes to compute the tables again."""

import hashlib
import json
import shutil
from pathlib import Path

import pytest

from geoprofile.errors import DataErrors, UsageError
from geoprofile.handover import hand_over, reproduce
from geoprofile.store import Changes, Store


@pytest.fixture
def stored(small_site):
    """The small site as a real file with its inputs beside it."""
    home = Path(small_site.path).parent
    store = Store.create(
        small_site.path, name="Small yard", crs=small_site.crs, vertical_datum="yard datum"
    )
    files = small_site.table("source_file")
    sums = {}
    for name in files["source_file"]:
        (home / name).write_text(f"content of {name}\n")
        sums[name] = hashlib.sha256(f"content of {name}\n".encode()).hexdigest()
    (home / "site.toml").write_text('crs = "EPSG:32628"\n')
    store.write(
        Changes(
            command="load",
            upserts={t: small_site.table(t) for t in ("borehole", "interval", "sample")},
            source_files=files.drop(columns="run").assign(
                fingerprint=[sums[n] for n in files["source_file"]]
            ),
        )
    )
    return store


def test_the_same_tables_pass(stored, tmp_path):
    """Inputs are copied as they are; a run that gives the same tables is accepted."""
    hand_over(stored.read(), tmp_path / "out", formats=["csv"], review=True)
    review = tmp_path / "out" / "review"
    assert (review / "inputs" / "samples.csv").read_text() == "content of samples.csv\n"
    assert "numpy" in json.loads((review / "versions.json").read_text())

    def again(folder):
        assert (folder / "site.toml").is_file()
        return shutil.copy(stored.path, folder / "site.gpkg")

    reproduce(review, again)


def test_another_table_is_named(stored, tmp_path):
    """One row fewer: that table is named, and only that one."""
    hand_over(stored.read(), tmp_path / "out", formats=["csv"], review=True)

    def other(folder):
        place = shutil.copy(stored.path, folder / "site.gpkg")
        Store.open(place).write(Changes(command="edit", deletes={"sample": [("s-1",)]}))
        return place

    with pytest.raises(DataErrors) as caught:
        reproduce(tmp_path / "out" / "review", other)
    assert [p.where for p in caught.value.problems] == ["table sample (input)"]


def test_a_changed_input_stops_the_review(stored, tmp_path):
    """The file is named, and nothing is written."""
    (stored.path.parent / "samples.csv").write_text("more\n")
    with pytest.raises(DataErrors, match=r"samples\.csv"):
        hand_over(stored.read(), tmp_path / "out", formats=["csv"], review=True)
    assert not (tmp_path / "out").exists()


def test_another_folder_is_refused(tmp_path):
    """With the name of what is missing."""
    with pytest.raises(UsageError, match="review"):
        reproduce(tmp_path, lambda folder: folder)
