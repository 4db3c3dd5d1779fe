"""Where everything in a hand-over comes from: RO-Crate 1.1 with the process run profile.

Peroni et al. (2022) and the RO-Crate community, https://w3id.org/ro/crate/1.1; the process run
profile describes runs of programs whose order nobody wrote down before.
"""

from __future__ import annotations

import hashlib
import json
import mimetypes
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote, unquote

from geoprofile import __version__
from geoprofile.errors import DataError, DataErrors, Problem
from geoprofile.schema import TABLES
from geoprofile.site import records_of

if TYPE_CHECKING:
    from geoprofile.site import Site

CRATE = "ro-crate-metadata.json"
CONTEXT = "https://w3id.org/ro/crate/1.1/context"
SPECIFICATION = "https://w3id.org/ro/crate/1.1"
PROFILE = "https://w3id.org/ro/wfrun/process/0.5"
TERMS = {"sha256": "https://w3id.org/ro/terms/workflow-run#sha256"}
TYPES = {
    ".gpkg": "application/geopackage+sqlite3",
    ".csv": "text/csv",
    ".geojson": "application/geo+json",
    ".toml": "application/toml",
}
INPUTS = "review/inputs"
Entity = dict[str, Any]


def crate(site: Site, work: Path, files: Sequence[str], *, made_on: str) -> str:
    """The metadata of a hand-over, from the runs that the site keeps.

    Parameters
    ----------
    site : Site
        What leaves: nothing private.
    work : Path
        The folder of the hand-over, complete but for this file and what is summed after it.
    files : sequence of str
        Relative to the folder.
    made_on : str
        ISO 8601 day.

    Returns
    -------
    str
        JSON-LD.
    """
    parts = [_file(work, name) for name in files if (work / name).is_file()]
    runs = list(records_of(site.table("run"))) if len(site.table("run")) else []
    inputs = _inputs(runs, set(files))
    software = {v: _software(v) for v in sorted({str(r["version"]) for r in runs} | {__version__})}
    actions = [_action(run, site, inputs, set(files)) for run in runs]
    root: Entity = {
        "@id": "./",
        "@type": "Dataset",
        "name": site.name,
        "description": "Results of packer tests and zone samples, with their inputs and runs.",
        "datePublished": made_on,
        "license": "To be agreed with whoever handed this over; nothing is said here.",
        "conformsTo": {"@id": PROFILE},
        "hasPart": [_link(p) for p in parts],
        "mentions": [_link(a) for a in actions],
    }
    about: Entity = {
        "@id": CRATE,
        "@type": "CreativeWork",
        "conformsTo": {"@id": SPECIFICATION},
        "about": {"@id": "./"},
    }
    profile: Entity = {
        "@id": PROFILE,
        "@type": "CreativeWork",
        "name": "Process Run Crate",
        "version": "0.5",
    }
    absent = [e for e in inputs.values() if e["@id"].startswith("#")]
    graph = [about, root, profile, *software.values(), *parts, *absent, *actions]
    return json.dumps({"@context": [CONTEXT, TERMS], "@graph": graph}, indent=1) + "\n"


def _link(entity: Entity) -> dict[str, str]:
    return {"@id": str(entity["@id"])}


def _file(work: Path, name: str) -> Entity:
    place = work / name
    kind = TYPES.get(place.suffix) or mimetypes.guess_type(name)[0] or "application/octet-stream"
    with place.open("rb") as content:
        digest = hashlib.file_digest(content, "sha256").hexdigest()
    return {
        "@id": quote(name),
        "@type": "File",
        "name": place.name,
        "encodingFormat": kind,
        "contentSize": str(place.stat().st_size),
        "sha256": digest,
    }


def _software(version: str) -> Entity:
    return {
        "@id": f"#geoprofile-{version}",
        "@type": "SoftwareApplication",
        "name": "geoprofile",
        "softwareVersion": version,
    }


def _inputs(runs: Sequence[Mapping[str, Any]], files: set[str]) -> dict[tuple[str, str], Entity]:
    """What the runs read, by name and fingerprint: the file itself where it came along."""
    found: dict[tuple[str, str], Entity] = {}
    for run in runs:
        for name, digest in _json(run.get("inputs")).items():
            place = f"{INPUTS}/{name.split('#')[0]}"
            if place in files:
                found[name, digest] = {"@id": quote(place)}
            else:
                found[name, digest] = {
                    "@id": f"#input-{len(found) + 1}",
                    "@type": "CreativeWork",
                    "name": name,
                    "sha256": str(digest),
                }
    return found


def _action(
    run: Mapping[str, Any], site: Site, inputs: Mapping[tuple[str, str], Entity], files: set[str]
) -> Entity:
    number = int(run["run"])
    action: Entity = {
        "@id": f"#run-{number}",
        "@type": "CreateAction",
        "name": f"geoprofile {run['command']}",
        "actionStatus": "http://schema.org/CompletedActionStatus",
        "instrument": {"@id": f"#geoprofile-{run['version']}"},
        "object": [_link(inputs[k]) for k in _json(run.get("inputs")).items()],
        "result": [{"@id": quote(f)} for f in _results(number, site, files)],
    }
    if settings := _json(run.get("settings")):
        action["description"] = f"Settings: {json.dumps(settings, sort_keys=True)}"
    for key, column in (("startTime", "started_at"), ("endTime", "ended_at")):
        if isinstance(run.get(column), str):
            action[key] = run[column]
    return action


def _results(number: int, site: Site, files: set[str]) -> Iterator[str]:
    """Files that hold the tables which a run made."""
    for name, frame in site.tables.items():
        made = name in TABLES and TABLES[name].owner == "derived" and "run" in frame
        if made and (frame["run"] == number).any() and f"csv/{name}.csv" in files:
            yield f"csv/{name}.csv"


def _json(text: Any) -> dict[str, Any]:
    """A column of JSON; what was kept back is empty."""
    made = json.loads(text) if isinstance(text, str) and text else {}
    return made if isinstance(made, dict) else {}


def check_against_crate(review: Path) -> None:
    """Hold the inputs of a review against the crate in the folder above it, if there is one.

    Raises
    ------
    DataErrors
        Inputs that are gone or hold something else than was handed over, or a corrupt crate.
    """
    place = review.resolve().parent / CRATE
    if not place.is_file():
        return
    problems = []
    for name, digest in _promised(place).items():
        file = place.parent / name
        found = hashlib.sha256(file.read_bytes()).hexdigest() if file.is_file() else None
        if found != digest:
            problems.append(
                Problem(
                    name,
                    "no such file" if found is None else "other content than was handed over",
                    f"the SHA-256 that {CRATE} gives",
                    "Ask for the hand-over again, or compare with its checksums.",
                )
            )
    if problems:
        raise DataErrors(problems)


def _promised(place: Path) -> dict[str, str]:
    """SHA-256 of every input in the crate, by its path."""
    try:
        graph = json.loads(place.read_text(encoding="utf-8"))["@graph"]
        every = {unquote(str(e["@id"])): str(e["sha256"]) for e in graph if "sha256" in e}
    except (ValueError, KeyError, TypeError, RecursionError) as error:
        raise DataError(
            str(place),
            f"no crate ({type(error).__name__})",
            "the file as it was handed over",
            "Ask for the hand-over again.",
        ) from error
    return {n: d for n, d in every.items() if n.startswith(f"{INPUTS}/") and ".." not in n}
