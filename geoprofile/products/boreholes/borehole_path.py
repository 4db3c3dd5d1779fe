"""The holes in 3D, from their collars and surveys."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from geoprofile.engine.rows import frame
from geoprofile.plugins import Layer, Progress
from geoprofile.products.boreholes.inputs import paths_of

if TYPE_CHECKING:
    import pandas as pd

    from geoprofile.site import Site


def compute(
    site: Site, settings: Mapping[str, Any], progress: Progress
) -> Mapping[str, pd.DataFrame]:
    """One line per borehole, fine enough to follow its bends."""
    import shapely

    rows = []
    for name, path in paths_of(site).items():
        line = path.line(0.0, path.length_m)
        rows.append(
            {
                "borehole": name,
                "length_m": path.length_m,
                "end_elevation_m": float(line[-1, 2]),
                "surveyed": path.surveyed,
                "geometry": shapely.LineString(line),
            }
        )
    progress(1, 1)
    return {"borehole_path": frame("borehole_path", rows, site.crs)}


PLUGIN = Layer(
    name="borehole_path",
    summary="the holes in 3D, by minimum curvature from the surveys",
    reads=("borehole", "survey"),
    writes=("borehole_path",),
    compute=compute,
)
