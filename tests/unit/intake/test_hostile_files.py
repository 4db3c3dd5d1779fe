"""Hostile and broken files: refused in little time and memory, never half loaded."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from geoprofile import intake
from geoprofile.errors import DataErrors, GeoprofileError

ALONE = dict.fromkeys(
    ("boreholes.csv", "intervals.csv", "tests.csv", "readings/T1.csv", "samples.csv", "results.csv")
)


def workbook(parts: dict[str, bytes]) -> bytes:
    """A zip archive with these parts and a list of one sheet."""
    held = io.BytesIO()
    listed = b'<workbook><sheets><sheet name="boreholes"/></sheets></workbook>'
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in {"xl/workbook.xml": listed, **parts}.items():
            archive.writestr(name, content)
    return held.getvalue()


def test_file_of_five_gigabytes_is_refused_unread(folder):
    """A file past the limit is refused by its size; here it is a hole that takes no disk."""
    place = folder(ALONE)
    with (place / "boreholes.csv").open("wb") as handle:
        handle.truncate(5_000_000_000)
    source = intake.SourceFile(place / "boreholes.csv", "boreholes.csv", "borehole", "", 0)
    with pytest.raises(DataErrors, match=r"5\.0 GB"):
        intake.read_files([source], intake.read_settings(place), {})


def test_ten_million_columns_are_refused(one):
    """A header of ten million cells is refused at its first megabyte."""
    problem = one({**ALONE, "boreholes.csv": b"x," * 10_000_000})
    assert "characters" in problem.found


def test_thousands_of_columns_are_refused(one):
    """A header of more columns than any table has is refused."""
    header = ",".join(f"c{i}" for i in range(5000))
    assert "5000 columns" in one({**ALONE, "boreholes.csv": header + "\n"}).found


def test_endless_line_is_refused(one):
    """A line without end in the middle of a file is refused."""
    text = "borehole,x,y,ground_elevation_m,depth_m\n" + "1" * 3_000_000
    assert "row 2" in one({**ALONE, "boreholes.csv": text}).where


def test_zero_bytes_in_the_middle_are_refused(one):
    """A file that turns binary after its first pages is refused where it does."""
    text = "borehole,x,y,ground_elevation_m,depth_m\n" + "B1,500000,5300000,1,30\n" * 3000
    assert "zero byte" in one({**ALONE, "boreholes.csv": text + "\0\0\n"}).found


def test_too_many_rows_are_refused(one):
    """The number of rows is bounded by site.toml."""
    site = 'crs = "EPSG:32632"\n[intake]\nmax_rows = 10\n'
    text = "elapsed_s,displacement_m\n" + "".join(f"{i},1\n" for i in range(20))
    assert "max_rows" in one({"site.toml": site, "readings/T1.csv": text}).advice


def test_zip_bomb_is_refused(folder):
    """A workbook that unpacks to a thousand times its size is refused before it is unpacked."""
    bomb = workbook({"xl/worksheets/sheet1.xml": b"0" * 60_000_000})
    assert len(bomb) < 200_000
    place = folder({**ALONE, "boreholes.xlsx": bomb})
    with pytest.raises(DataErrors, match="times its size"):
        intake.read_files(intake.find_files(place), intake.read_settings(place), {})


@pytest.mark.parametrize(
    "content",
    [
        b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "c">]><worksheet>&b;</worksheet>',
        b"<a>" * 200_000,
        b"",
        b"\xff\xfe\x00",
    ],
    ids=["entities", "deep", "empty", "noise"],
)
def test_workbook_with_hostile_parts_is_refused(folder, content):
    """Entities, a hundred thousand levels, and noise end in a message."""
    book = workbook({"xl/worksheets/sheet1.xml": content})
    place = folder({**ALONE, "boreholes.xlsx": book})
    with pytest.raises(GeoprofileError):
        intake.read_files(intake.find_files(place), intake.read_settings(place), {})


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04", b"name,x\n"])
def test_workbook_that_is_none_is_told(folder, content):
    """A file that only bears the name of a workbook is told as such."""
    place = folder({**ALONE, "boreholes.xlsx": content})
    with pytest.raises(GeoprofileError, match="no workbook"):
        intake.find_files(place)


def test_names_that_would_break_messages_are_refused(one):
    """A name with a line break or of great length is refused; quotes and SQL are only text."""
    text = 'borehole,x,y,ground_elevation_m,depth_m\n"B\n1",500000,5300000,1,30\n'
    assert "one line" in one({**ALONE, "boreholes.csv": text}).expected


@pytest.mark.parametrize("name", ["'; DROP TABLE borehole; --", "<b>&amp;", "../../x", "%s%n"])
def test_names_are_only_text(taken, name):
    """SQL, markup and paths in a name are kept as the text that they are."""
    text = f'borehole,x,y,ground_elevation_m,depth_m\n"{name}",500000,5300000,1,30\n'
    frame = taken({**ALONE, "boreholes.csv": text}).tables["borehole"]
    assert frame["borehole"].tolist() == [name]


@pytest.mark.parametrize("path", ["../secret.jpg", "/etc/passwd", "a/../../b", "C:\\x", "\\\\s\\x"])
def test_attachments_outside_the_folder_are_refused(one, path):
    """The path of an attachment stays inside the site folder."""
    text = f"path,what\n{path},a photo\n"
    assert "site folder" in one({**ALONE, "attachments.csv": text}).expected


@pytest.mark.parametrize(
    "content",
    [
        b'{"type": "FeatureCollection", "name": "\xed", "features": []}',
        b'{"type": ' + b"[" * 100_000,
        b'{"type": "FeatureCollection", "features": [{"type": "Feature", "geometry": null}]}',
    ],
    ids=["no text", "deep", "no shape"],
)
def test_shapes_in_broken_text_are_told(folder, content):
    """Bytes that are no text, a hundred thousand levels, and a feature without anything."""
    place = folder({**ALONE, "areas.geojson": content})
    with pytest.raises(GeoprofileError, match="areas"):
        intake.read_files(intake.find_files(place), intake.read_settings(place), {})


@pytest.mark.parametrize("damage", [b"\x00" * 40, b"\xff" * 40])
def test_workbook_with_a_damaged_part_is_told(folder, damage):
    """A part whose packed bytes are damaged ends in a message, not in the unpacker's own error."""
    book = bytearray(workbook({"xl/worksheets/sheet1.xml": bytes(range(256)) * 20}))
    place_of_part = book.index(b"sheet1.xml") + 20
    book[place_of_part : place_of_part + 40] = damage
    place = folder({**ALONE, "boreholes.xlsx": bytes(book)})
    with pytest.raises(GeoprofileError, match=r"no workbook|cannot be read"):
        intake.read_files(intake.find_files(place), intake.read_settings(place), {})


def test_workbook_packed_in_an_unknown_way_is_told(folder):
    """Method 99 of an archive (APPNOTE.TXT 4.4.5, from memory: encrypted) ends in a message."""
    book = bytearray(workbook({"xl/worksheets/sheet1.xml": bytes(range(256)) * 20}))
    for header, method in ((b"PK\x03\x04", 8), (b"PK\x01\x02", 10)):
        at = book.index(header)
        while at >= 0:
            book[at + method : at + method + 2] = (99).to_bytes(2, "little")
            at = book.find(header, at + 4)
    place = folder({**ALONE, "boreholes.xlsx": bytes(book)})
    with pytest.raises(GeoprofileError, match=r"no workbook|cannot be read"):
        intake.read_files(intake.find_files(place), intake.read_settings(place), {})


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="there are no named pipes")
def test_a_pipe_is_not_waited_for(folder):
    """A pipe under the name of a table would be read for ever; it is told as no file."""
    place = folder(ALONE)
    os.mkfifo(place / "boreholes.csv")
    with pytest.raises(GeoprofileError, match="no regular file"):
        intake.find_files(place)


def test_a_file_at_a_path_of_the_libraries_is_not_opened(folder):
    """A name such as /vsicurl/... is a file that does not exist, and nothing is fetched."""
    with pytest.raises(GeoprofileError, match="no such file"):
        intake.find_files(folder(ALONE), only=Path("/vsicurl/http://localhost:9/areas.geojson"))


LIMITED = """
import resource, sys, time
from pathlib import Path
from geoprofile import intake
from geoprofile.errors import GeoprofileError
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
folder = Path(sys.argv[1])
begun = time.process_time()
try:
    intake.read_files(intake.find_files(folder), intake.read_settings(folder), {})
except GeoprofileError as error:
    print(error)
grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
print(f"grown {grown / 1024:.0f} MB, {time.process_time() - begun:.1f} s")
"""


@pytest.mark.skipif(sys.platform != "linux", reason="memory is counted in other units elsewhere")
@pytest.mark.parametrize("kind", ["header", "line", "quote", "cells"])
def test_monsters_take_little_memory_and_time(folder, kind):
    """Forty megabytes of one header, line or quote, or a million faults: under 400 MB and 8 s."""
    plain = b"elapsed_s,displacement_m\n"
    content = {
        "header": b"x," * 20_000_000,
        "line": plain + b"0,1" * 14_000_000,
        "quote": plain + b'0,"' + b"1\n" * 20_000_000,
        "cells": plain + b"x,y\n" * 1_000_000,
    }[kind]
    place = folder({"readings/T1.csv": content})
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(place)], capture_output=True, text=True, check=True
    )
    *told, measured = done.stdout.splitlines()
    assert 0 < len(told) < 300
    assert sum(map(len, told)) < 50_000
    grown, seconds = re.findall(r"[\d.]+", measured)
    assert float(grown) < 400
    assert float(seconds) < 8
