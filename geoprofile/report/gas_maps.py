"""Maps of soil gas in the report: one for each substance and depth, in the unit of gas."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

from geoprofile.drawing.symbols import tidy, units_in
from geoprofile.report.content import Content, Row
from geoprofile.report.markup import escaped, listed, number, part, words
from geoprofile.report.section_view import ramp
from geoprofile.report.site_map import map_figure
from geoprofile.report.svg import Colours, View
from geoprofile.report.values import Value, scale_of, values_of
from geoprofile.schema.soil_gas import CAUTION, IN_GAS, NEAR_M, SOIL_GAS

MOST_MAPS = 12
ABOUT = (
    "Each map is the median of a model of soil gas alone, at a depth below ground and above the "
    "water level; no result of water enters it. Rings are what was measured within "
    f"{NEAR_M:g} m of that depth."
)
Depth = tuple[str, float]


def gas_maps(content: Content) -> str:
    """The part with the maps; empty where no gas is mapped."""
    maps: dict[Depth, list[Row]] = defaultdict(list)
    for row in content.rows("soil_gas_band"):
        if row["statistic"] == "median":
            maps[str(row["quantity"]), float(row["depth_m"])].append(row)
    if not maps or not content.rows("borehole"):
        return ""
    shown = sorted(maps)[:MOST_MAPS]
    figures = "".join(_figure(content, depth, maps[depth]) for depth in shown)
    rest = sorted(maps)[MOST_MAPS:]
    if rest:
        names = listed(f"{words(q)} at {d:g} m" for q, d in rest)
        figures += f"<p>Mapped too, in the table <code>soil_gas_band</code>:</p>{names}"
    text = f'<p class="caution">{CAUTION}</p><p>{ABOUT}</p>'
    return part("soil-gas", "Soil gas above the water level", text + figures)


def _figure(content: Content, depth: Depth, bands: list[Row]) -> str:
    quantity, below_m = depth
    scale = scale_of(content, quantity)
    near = _near(content, depth)
    place = f"{quantity} at {below_m:g} m below ground"
    campaign = bands[0]["round"]
    caption = (
        f"<strong>{words(place)}</strong>{f', round {words(campaign)}' if campaign else ''}. "
        f"{ramp(quantity, scale, 'white ring')} {_criterion(content, quantity)}"
        f"{_blank(content, depth)}"
    )
    return map_figure(
        content,
        lambda view: _bands(bands, scale, view),
        lambda view: _rings(near, scale, view),
        label=f"Map of {place}",
        caption=caption,
    )


def _bands(bands: list[Row], scale: Colours, view: View) -> Iterator[str]:
    for row in bands:
        path = view.path(row["geometry"])
        if path:
            yield (
                f'<path class="band" fill="{scale.of_band(row)}" d="{path}">'
                f"<title>{escaped(row['label'] or '')}</title></path>"
            )


def _near(content: Content, depth: Depth) -> list[tuple[Row, Value]]:
    """The interval of each hole next to the depth, with its value."""
    quantity, below_m = depth
    values = values_of(content, quantity)
    ground = {r["borehole"]: r["ground_elevation_m"] for r in content.rows("borehole")}
    best: dict[str, tuple[float, Row, Value]] = {}
    for row in content.rows("soil_gas"):
        hole, shape, value = str(row["borehole"]), row["geometry"], values.get(str(row["interval"]))
        level = ground.get(hole)
        if row["analyte"] != quantity.removesuffix(IN_GAS) or value is None:
            continue
        if level is None or shape is None or shape.is_empty:
            continue
        ends = sorted(level - z for *_, z in (shape.coords[0], shape.coords[-1]))
        away = max(ends[0] - below_m, below_m - ends[1], 0.0)
        if away <= NEAR_M and (hole not in best or away < best[hole][0]):
            best[hole] = (away, row, value)
    return [(row, value) for _, row, value in best.values()]


def _rings(near: list[tuple[Row, Value]], scale: Colours, view: View) -> Iterator[str]:
    """Coloured rings round the boreholes that were measured there."""
    for row, value in near:
        (x0, y0, *_), (x1, y1, *_) = row["geometry"].coords[0], row["geometry"].coords[-1]
        x, y = view.x(0.5 * (x0 + x1)), view.y(0.5 * (y0 + y1))
        kind = "bar-below" if value.value is None else "bar-value"
        yield (
            f'<circle class="{kind}" fill="{scale.at(value.value)}" cx="{x}" cy="{y}" r="9">'
            f"<title>{escaped(row['interval'])}: {escaped(value.words)}</title></circle>"
            f'<text class="small" x="{x + 11}" y="{y + 17}">{_short(value)}</text>'
        )


def _short(value: Value) -> str:
    """The number beside a ring."""
    if value.value is None:
        return "" if value.limit is None else f"&lt;{_figures(value.limit)}"
    return _figures(value.value)


def _figures(value: float) -> str:
    """Three figures, plain."""
    return tidy(float(f"{value:.3g}"))


def _criterion(content: Content, quantity: str) -> str:
    """The user's criterion for gas, in the unit of gas."""
    for row in content.rows("criterion"):
        if row.get("medium") != SOIL_GAS or row["analyte"] != quantity.removesuffix(IN_GAS):
            continue
        return (
            f"Criterion of the user for soil gas: {number(row['value'])} "
            f"{words(units_in(str(row['unit'])))}. "
        )
    return ""


def _blank(content: Content, depth: Depth) -> str:
    """Why parts of the map are empty."""
    reasons = [
        str(r["label"] or r["reason"])
        for r in content.rows("soil_gas_blank")
        if (r["quantity"], r["depth_m"]) == depth
    ]
    return f"Left blank where: {words('; '.join(dict.fromkeys(reasons)))}. " if reasons else ""
