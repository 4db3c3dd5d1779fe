"""The independent look at a written file: another library reads it, and must see what was meant.

fiona does this where it is installed, else pyogrio; neither ever writes to a site file, and
neither is called while a connection of ours is open: two copies of SQLite in one process drop
each other's locks.
"""

from __future__ import annotations

import importlib.util
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from geoprofile.errors import DamagedError
from geoprofile.store.reference import OWN_ORGANISATION, Reference

RELATIVE_TOLERANCE = 1e-9  # extents are stored as doubles; only rounding in the comparison remains

Extent = tuple[float, float, float, float]


@dataclass(frozen=True)
class LayerFacts:
    """What a layer is: rows, geometry type ("" without), Z, reference system and extent."""

    name: str
    rows: int
    geometry: str
    has_z: bool
    system: Reference | None
    extent: Extent | None


def verify(path: Path, meant: Sequence[LayerFacts]) -> None:
    """DamagedError unless an independent reader sees every layer as it was meant."""
    look = _with_fiona if importlib.util.find_spec("fiona") else _with_pyogrio
    for facts in _to_look_at(path, meant):
        try:
            pairs = look(path, facts)
        except Exception as error:  # libraries fail in many ways on a damaged file
            raise DamagedError(
                f"{path.name}, table {facts.name}",
                f"that another program cannot open it ({type(error).__name__})",
                "a layer that any GIS opens; its rows were stored",
                "Run 'geoprofile check --repair'.",
            ) from error
        for what, expected, found in pairs:
            if not _agree(expected, found):
                raise DamagedError(
                    f"{path.name}, table {facts.name}",
                    f"{what} {found} when read back",
                    f"{expected}",
                    "Put back a safety copy and run again; if it happens again, report it.",
                )


def _to_look_at(path: Path, meant: Sequence[LayerFacts]) -> list[LayerFacts]:
    """Layers that are opened one by one: those with rows on the map, and all if any is amiss.

    GDAL takes a whole file in at every opening, 20 to 30 ms for 80 tables; rows and kinds of
    geometry of all layers take two. A reader that fails here names no layer: they are then opened
    one by one as well.
    """
    import pyogrio
    import pyogrio.raw

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # a file that is being written has a name of its own
            kinds = {str(name): str(kind or "None") for name, kind in pyogrio.list_layers(path)}
            counts = " UNION ALL ".join(f'SELECT COUNT(*) AS n FROM "{f.name}"' for f in meant)  # noqa: S608
            answer = pyogrio.raw.read(path, sql=counts, sql_dialect="OGRSQL", read_geometry=False)
        rows = answer[3][0].tolist()
    except Exception:  # whatever it is, the look at each layer finds and names it
        return list(meant)
    agreed = rows == [f.rows for f in meant] and all(
        _agree(expected, found)
        for f in meant
        for _, expected, found in _geometry(f, _named_as_fiona(kinds.get(f.name, "")))
    )
    return [f for f in meant if not agreed or (f.system is not None and f.rows)]


Comparison = list[tuple[str, object, object]]


def _agree(expected: object, found: object) -> bool:
    if isinstance(expected, tuple) and isinstance(found, tuple):
        size = max(1.0, *(abs(v) for v in expected))
        pairs = zip(expected, found, strict=True)
        return all(abs(a - b) <= RELATIVE_TOLERANCE * size for a, b in pairs)
    return expected == found


def _with_fiona(path: Path, facts: LayerFacts) -> Comparison:
    import fiona

    with fiona.open(path, layer=facts.name) as layer:
        seen = str(layer.schema["geometry"])
        pairs: Comparison = [("rows", facts.rows, len(layer))]
        pairs += _geometry(facts, seen)
        if facts.system is not None:
            pairs.append(_system(facts.system, layer.crs_wkt))
        if facts.extent is not None:
            pairs.append(("extent", facts.extent, tuple(layer.bounds)))
    return pairs


def _with_pyogrio(path: Path, facts: LayerFacts) -> Comparison:
    import pyogrio

    info = pyogrio.read_info(path, layer=facts.name, force_feature_count=True)
    seen = str(info["geometry_type"] or "None")
    pairs: Comparison = [("rows", facts.rows, int(info["features"]))]
    pairs += _geometry(facts, _named_as_fiona(seen))
    if facts.system is not None:
        pairs.append(_system(facts.system, str(info["crs"] or "")))
    if facts.extent is not None and info["total_bounds"] is not None:
        pairs.append(("extent", facts.extent, tuple(map(float, info["total_bounds"]))))
    return pairs


def _named_as_fiona(kind: str) -> str:
    return "3D " + kind.removesuffix(" Z") if kind.endswith(" Z") else kind


def _geometry(facts: LayerFacts, seen: str) -> Comparison:
    kind = "" if seen == "None" else seen.removeprefix("3D ").upper()
    return [("geometry", facts.geometry, kind), ("elevations", facts.has_z, seen.startswith("3D"))]


def _system(system: Reference, seen: str) -> tuple[str, object, object]:
    from pyproj import CRS

    if not seen:
        return ("CRS", system.text, "none")
    crs = CRS.from_user_input(seen)
    if system.organisation == OWN_ORGANISATION:
        return ("CRS", system.name.split(" (")[0], crs.name.split(" (")[0])
    found = crs.to_authority(min_confidence=20)
    same = crs.equals(CRS.from_user_input(system.text), ignore_axis_order=True)
    shown = system.text if same else ":".join(found) if found else crs.name
    return ("CRS", system.text, shown)
