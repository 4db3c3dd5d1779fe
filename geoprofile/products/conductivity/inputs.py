"""From a site's tables to the records of its hydraulic tests."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from geoprofile.errors import DataError
from geoprofile.geometry import Path
from geoprofile.hydraulics.leak import ELEMENT_M
from geoprofile.hydraulics.nuisances import KV_MIDDLE, KV_SD_LOG10
from geoprofile.hydraulics.tests import HydraulicTest, Pipe, PressureStep
from geoprofile.products.boreholes.inputs import paths_of
from geoprofile.products.heads.inputs_levels import zone_level
from geoprofile.site import Site, records_of

Row = Mapping[str, Any]
FLAT_COSINE = 0.1  # 84 degrees from vertical
# in the order in which they say where the formation begins: a filter pack is part of the well
WALLS = ("open hole", "filter pack", "screen", "casing")


def hydraulic_tests(site: Site) -> Iterator[tuple[str, HydraulicTest | DataError]]:
    """Every test in use, put together from its tables; or why it cannot be.

    Parameters
    ----------
    site : Site
        Tables borehole, survey, construction, interval, test, reading and pressure step.

    Yields
    ------
    tuple of str and HydraulicTest or DataError
        In the order of the test names; tests with status "exclude" are left out, and planned ones
        of which nothing was read yet.
    """
    tables = _Tables(site)
    for test in records_of(site.tests):
        if test.get("status") == "exclude" or (
            test.get("status") == "planned" and not tables.was_made(str(test["test"]))
        ):
            continue
        try:
            yield str(test["test"]), tables.put_together(test)
        except DataError as error:
            yield str(test["test"]), error


class _Tables:
    """The site's tables indexed for one pass over the tests."""

    def __init__(self, site: Site) -> None:
        self.paths = paths_of(site)
        self.intervals = {str(r["interval"]): r for r in records_of(site.intervals)}
        self.readings = dict(tuple(site.table("reading").groupby("test", sort=False)))
        self.pressure_steps: dict[str, list[Row]] = defaultdict(list)
        for row in records_of(site.table("pressure_step").sort_values(["test", "step"])):
            self.pressure_steps[str(row["test"])].append(row)
        self.pipes = {
            str(r["packer"]): r["pipe_inner_diameter_mm"] for r in records_of(site.table("packer"))
        }
        self.elements = {
            str(r["packer"]): r["element_length_m"] for r in records_of(site.table("packer"))
        }
        self.losses: dict[str, list[Row]] = defaultdict(list)
        for row in records_of(site.table("pipe_loss")):
            self.losses[str(row["packer"])].append(row)
        self.flows: dict[tuple[str, int], list[tuple[float, float]]] = defaultdict(list)
        for row in records_of(site.table("step_flow").sort_values(["test", "step", "elapsed_s"])):
            one = (float(row["elapsed_s"]), float(row["flow_l_min"]) / 60_000)
            self.flows[str(row["test"]), int(row["step"])].append(one)
        self.construction: dict[str, list[Row]] = defaultdict(list)
        for row in records_of(site.table("construction")):
            self.construction[str(row["borehole"])].append(row)

    def was_made(self, test: str) -> bool:
        """Whether anything was read of a test."""
        return test in self.readings or bool(self.pressure_steps.get(test))

    def put_together(self, test: Row) -> HydraulicTest:
        """One record in SI units."""
        interval = self.intervals[str(test["interval"])]
        path = self.paths[str(interval["borehole"])]
        built = self._construction(interval)
        level = zone_level(path, interval)
        static = None if level is None else level.vertical_m
        slant = _slant(path, float(interval["top_m"]) if level is None else level.along_m)
        time, displacement, outside = self._readings(str(test["test"]))
        return HydraulicTest(
            test=str(test["test"]),
            interval=str(interval["interval"]),
            borehole=str(interval["borehole"]),
            kind=test["kind"],
            isolation=str(interval["isolation"]),
            zone_m=(float(interval["top_m"]), float(interval["bottom_m"])),
            interval_length_m=float(interval["bottom_m"]) - float(interval["top_m"]),
            hole_radius_m=_hole_radius(test, interval, built),
            pack_radius_m=_radius_of(built, "filter pack"),
            pack_porosity=_pack_porosity(built),
            riser_outer_radius_m=_half_mm(test.get("riser_outer_diameter_mm")),
            element_length_m=self.elements.get(str(interval.get("packer"))),
            open_above_m=self._open_above(interval),
            development=interval.get("development"),
            riser_radius_m=_scaled(_half_mm(test.get("riser_diameter_mm")), slant),
            tube_radii_m=tuple(r * slant for r in _tubes(test.get("tube_diameters_mm"))),
            top_m=_vertical(path, float(interval["top_m"])),
            bottom_m=_vertical(path, float(interval["bottom_m"])),
            static_depth_m=static,
            aquifer_top_m=test.get("aquifer_top_m"),
            aquifer_base_m=_base(test, static),
            pipe=self._pipe(test, interval),
            confined={"confined": True, "unconfined": False}.get(str(test.get("aquifer"))),
            kv_kh=float(test.get("kv_kh") or KV_MIDDLE),
            kv_kh_sd_log10=0.3 if test.get("kv_kh") else KV_SD_LOG10,
            expected_displacement_m=test.get("expected_displacement_m"),
            water_temperature_c=test.get("water_temperature_c"),
            system_compressibility_per_pa=_compressibility(test),
            shut_in_volume_m3=_scaled(test.get("shut_in_volume_l"), 1e-3),
            elapsed_s=time,
            displacement_m=displacement,
            outside_displacement_m=outside,
            pressure_steps=self._pressure_steps(test),
            meter_floor_m3_per_s=_scaled(test.get("meter_floor_l_min"), 1 / 60_000),
            chosen_method=test.get("method"),
            chosen_window=_window(test),
            chosen_start_s=test.get("start_s"),
        )

    def _pipe(self, test: Row, interval: Row) -> Pipe | None:
        """The string from the gauge to the zone, for the friction of an injection."""
        diameter = test.get("riser_diameter_mm")
        if diameter is None:
            diameter = self.pipes.get(str(interval.get("packer")))
        if test["kind"] != "constant head" or diameter is None:
            return None
        length = float(interval["top_m"])
        a, n = measured_loss(self.losses.get(str(interval.get("packer")), ()), length)
        return Pipe(
            length_m=length,
            inner_diameter_m=float(diameter) / 1000.0,
            measured_coefficient=a,
            measured_exponent=n,
        )

    def _readings(self, test: str) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
        rows = self.readings.get(test)
        if rows is None:
            return np.empty(0), np.empty(0), None
        outside = rows["outside_displacement_m"].to_numpy(dtype=float, na_value=np.nan)
        return (
            rows["elapsed_s"].to_numpy(dtype=float),
            rows["displacement_m"].to_numpy(dtype=float),
            None if np.isnan(outside).all() else outside,
        )

    def _pressure_steps(self, test: Row) -> tuple[PressureStep, ...]:
        name = str(test["test"])
        return tuple(
            PressureStep(
                step=int(r["step"]),
                flow_m3_per_s=float(r["flow_l_min"]) / 60_000,
                gauge_pressure_pa=_scaled(r["gauge_pressure_kpa"], 1e3),
                gauge_height_m=float(r["gauge_height_m"] or 0.0),
                minutes=r["minutes"],
                net_head_m=r["zone_head_m"],
                outside_head_m=r["outside_head_m"],
                flow_time_s=tuple(t for t, _ in self.flows.get((name, int(r["step"])), ())),
                flow_course_m3_per_s=tuple(
                    q for _, q in self.flows.get((name, int(r["step"])), ())
                ),
                blank_leak_m3_per_s_per_pa=_blank_leak(test),
            )
            for r in self.pressure_steps.get(name, ())
        )

    def _open_above(self, interval: Row) -> float | None:
        """Open hole from the upper element up to the casing [m]; None where nothing is built."""
        top = float(interval["top_m"])
        kinds = ("casing", "riser", "seal", "screen", "filter pack")
        rows = self.construction.get(str(interval["borehole"]), [])
        ends = [float(r["bottom_m"]) for r in rows if r["kind"] in kinds and r["bottom_m"] < top]
        if not rows:
            return None
        element = self.elements.get(str(interval.get("packer"))) or ELEMENT_M
        return max(top - float(element) - max(ends, default=0.0), 0.0)

    def _construction(self, interval: Row) -> list[Row]:
        """What is built at the middle of the interval."""
        middle = 0.5 * (float(interval["top_m"]) + float(interval["bottom_m"]))
        return [
            row
            for row in self.construction.get(str(interval["borehole"]), [])
            if row["top_m"] <= middle < row["bottom_m"]
        ]


def _vertical(path: Path, depth_m: float) -> float:
    """Vertical depth below ground of a depth along the hole [m]."""
    ends = path.at(np.array([0.0, depth_m]))
    return float(ends[0, 2] - ends[1, 2])


def _slant(path: Path, depth_m: float) -> float:
    """What a pipe's radius is multiplied by where it leans: a level surface cuts an ellipse.

    The water surface in a pipe at an angle to the vertical has the area A / cos(angle). A level
    above ground, or one that the hole never reaches, stands in a pipe that is upright; so it does
    where the hole is all but flat, for there no level could move along it.
    """
    if not depth_m >= 0.0:  # NaN where the hole never reaches it
        return 1.0
    ends = path.at(np.array([max(0.0, depth_m - 0.5), depth_m + 0.5]))
    along = ends[1] - ends[0]
    cosine = abs(float(along[2])) / float(np.linalg.norm(along))
    return 1.0 if cosine < FLAT_COSINE else float(1.0 / np.sqrt(cosine))


def _radius_of(built: Sequence[Row], kind: str) -> float | None:
    for row in built:
        if row["kind"] == kind:
            return float(row["diameter_mm"]) / 2000.0
    return None


def _pack_porosity(built: Sequence[Row]) -> float | None:
    """Drainable porosity of the filter pack there, where it was told."""
    for row in built:
        if row["kind"] == "filter pack" and row.get("porosity") is not None:
            return float(row["porosity"])
    return None


def _compressibility(test: Row) -> float | None:
    """As told, else from a timed injection: C = dV / (V dp) [1/Pa]."""
    told = test.get("system_compressibility_per_pa")
    parts = [
        test.get(c) for c in ("timed_injection_l", "timed_injection_rise_kpa", "shut_in_volume_l")
    ]
    if told is not None or any(p is None for p in parts):
        return None if told is None else float(told)
    pressed, rise, volume = (float(p) for p in parts if p is not None)
    return pressed / (volume * rise * 1e3)


def _blank_leak(test: Row) -> float:
    """What packers and string lose in blank casing, by pressure [m3/s per Pa]."""
    flow, at = test.get("blank_leak_l_min"), test.get("blank_leak_at_kpa")
    return 0.0 if not flow or not at else float(flow) / 60_000 / (float(at) * 1e3)


def measured_loss(rows: Sequence[Row], length_m: float) -> tuple[float | None, float | None]:
    """Loss h = a Q^n of a string from its calibration at surface, scaled to its length in the hole.

    Parameters
    ----------
    rows : Sequence of Mapping
        `flow_l_min`, `loss_kpa`, `length_m` of each flow that was tried.
    length_m : float [m]
        Of the string in the hole.

    Returns
    -------
    tuple of float
        a [m per (m3/s)^n] and n [-]; None where there is no loss to fit. One flow takes n = 1.85.
    """
    good = [r for r in rows if float(r["loss_kpa"]) > 0]
    if not good:
        return None, None
    flow = np.log([float(r["flow_l_min"]) / 60_000 for r in good])
    loss = [float(r["loss_kpa"]) / 9.807 * length_m / float(r["length_m"]) for r in good]
    if np.ptp(flow) < 0.1:
        return float(np.mean(loss) / np.exp(1.85 * flow.mean())), 1.85
    n, log_a = np.polyfit(flow, np.log(loss), 1)
    return float(np.exp(log_a)), float(n)


def _hole_radius(test: Row, interval: Row, built: Sequence[Row]) -> float:
    """Radius of the wall at the zone: the open hole, else the outside of pack or screen."""
    for kind in WALLS:
        radius = _radius_of(built, kind)
        if radius is not None:
            return radius
    raise DataError(
        f"test {test['test']} ({interval['borehole']}, "
        f"{round(interval['top_m'], 2):g}-{round(interval['bottom_m'], 2):g} m)",
        "no construction at the middle of its interval",
        "an open hole, screen or casing with its diameter there",
        "Add the row to the construction table.",
    )


def _half_mm(diameter_mm: Any) -> float | None:
    return None if diameter_mm is None else float(diameter_mm) / 2000.0


def _scaled(value: Any, factor: float) -> float | None:
    return None if value is None else float(value) * factor


def _tubes(cell: Any) -> tuple[float, ...]:
    """Radii [m] from the cell's diameters [mm], separated by spaces."""
    return tuple(float(part) / 2000.0 for part in str(cell or "").split())


def _base(test: Row, static: Any) -> float | None:
    """Vertical depth of the aquifer's base: from its top, or from the static level."""
    top = test.get("aquifer_top_m")
    start, thickness = (static if top is None else top), test.get("aquifer_thickness_m")
    return None if start is None or thickness is None else float(start) + float(thickness)


def _window(test: Row) -> tuple[float, float] | None:
    high, low = test.get("window_high"), test.get("window_low")
    return None if high is None or low is None else (float(high), float(low))
