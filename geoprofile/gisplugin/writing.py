"""Writes the plugin as a folder or as a zip: template, metadata, and what the program can do."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

from geoprofile import __version__
from geoprofile.errors import UsageError
from geoprofile.whole import whole_file, whole_files

NAME = "geoprofile_plugin"
STAMP = (2000, 1, 1, 0, 0, 0)  # the same plugin is the same file
ABOUT = (
    "Packer tests and zone samples of boreholes to K, plume maps, sections and the next depth to "
    "test. The plugin holds no science: it starts the installed program geoprofile as a process "
    "of its own and makes its forms from what that program says of itself. Needs Python 3.11 or "
    "later with the package geoprofile; 'Set up' makes an environment from its wheels. Results "
    "support a qualified person's judgement and do not replace it."
)
LICENCE = """MIT License

Copyright (c) the geoprofile contributors

Permission is hereby granted, free of charge, to any person obtaining a copy of this software and
associated documentation files (the "Software"), to deal in the Software without restriction,
including without limitation the rights to use, copy, modify, merge, publish, distribute,
sublicense, and/or sell copies of the Software, and to permit persons to whom the Software is
furnished to do so, subject to the following conditions:

The above copyright notice and this permission notice shall be included in all copies or
substantial portions of the Software.

THE SOFTWARE IS PROVIDED "AS IS", WITHOUT WARRANTY OF ANY KIND, EXPRESS OR IMPLIED, INCLUDING BUT
NOT LIMITED TO THE WARRANTIES OF MERCHANTABILITY, FITNESS FOR A PARTICULAR PURPOSE AND
NONINFRINGEMENT. IN NO EVENT SHALL THE AUTHORS OR COPYRIGHT HOLDERS BE LIABLE FOR ANY CLAIM,
DAMAGES OR OTHER LIABILITY, WHETHER IN AN ACTION OF CONTRACT, TORT OR OTHERWISE, ARISING FROM, OUT
OF OR IN CONNECTION WITH THE SOFTWARE OR THE USE OR OTHER DEALINGS IN THE SOFTWARE.
"""


@dataclass(frozen=True)
class Publisher:
    """Who publishes the plugin: a repository of plugins asks for all of it."""

    author: str = ""
    email: str = ""
    homepage: str = ""
    repository: str = ""
    tracker: str = ""

    @property
    def missing(self) -> tuple[str, ...]:
        """What a repository would still ask for."""
        return tuple(name for name, value in vars(self).items() if not value)


def contents(description: Mapping[str, Any], publisher: Publisher) -> dict[str, bytes]:
    """The files of the plugin by name."""
    template = files("geoprofile.gisplugin") / "template"
    found = {
        one.name: one.read_bytes()
        for one in sorted(template.iterdir(), key=lambda one: one.name)
        if one.name.endswith((".py", ".svg"))
    }
    told = {k: v for k, v in description.items() if k != "watch"}
    return found | {
        "description.json": json.dumps(told, indent=1).encode(),
        "metadata.txt": metadata(publisher).encode(),
        "LICENSE": LICENCE.encode(),
    }


def metadata(publisher: Publisher) -> str:
    """The file that the GIS and a repository of plugins read."""
    lines = {
        "name": "geoprofile",
        "qgisMinimumVersion": "3.22",
        "qgisMaximumVersion": "4.99",
        "supportsQt6": "yes",
        "hasProcessingProvider": "yes",
        "description": "Packer tests and zone samples to K, plume maps and the next depth to test",
        "about": ABOUT,
        "version": __version__,
        "license": "MIT",
        "icon": "icon.svg",
        "category": "Analysis",
        "tags": "hydrogeology,boreholes,packer test,groundwater,plume,hydraulic conductivity",
        "experimental": "False",
        "deprecated": "False",
        **{name: value for name, value in vars(publisher).items() if value},
    }
    for name, value in lines.items():
        if "\n" in value or "\r" in value:
            raise UsageError(f"--{name}", "a line break", "one line", "Write it on one line.")
    return "[general]\n" + "".join(f"{name}={value}\n" for name, value in lines.items())


def write_folder(
    folder: Path, description: Mapping[str, Any], publisher: Publisher, *, overwrite: bool = False
) -> tuple[Path, ...]:
    """Write the plugin as a folder of its name inside a folder, such as the GIS's own for plugins.

    UsageError where there is one already and it is not to be replaced.
    """
    place = folder / NAME
    if place.exists() and not overwrite:
        raise _taken(place)
    place.mkdir(parents=True, exist_ok=True)
    made = contents(description, publisher)
    places = tuple(place / name for name in made)
    with whole_files(places) as besides:
        for beside, content in zip(besides, made.values(), strict=True):
            beside.write_bytes(content)
    return places


def write_zip(
    file: Path, description: Mapping[str, Any], publisher: Publisher, *, overwrite: bool = False
) -> Path:
    """Write the plugin as a zip that the GIS's plugin manager takes.

    It says nothing of this computer. UsageError where there is a file of that name.
    """
    if file.exists() and not overwrite:
        raise _taken(file)
    elsewhere = {k: v for k, v in description.items() if k != "python"}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in contents(elsewhere, publisher).items():
            entry = zipfile.ZipInfo(f"{NAME}/{name}", STAMP)
            entry.external_attr = 0o644 << 16
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, content)
    with whole_file(file) as beside:
        beside.write_bytes(packed.getvalue())
    return file


def _taken(path: Path) -> UsageError:
    return UsageError(
        str(path), "something of that name", "a new name", "Choose another or use --overwrite."
    )
