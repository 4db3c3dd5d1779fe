"""Tests in real ground as a crew would hand them in: CSV tables of whole sites, with the true K.

The mixture: Kv/Kh .05 to 1, skin in 60 % (K x .2 to 4, out to 1.3 to 3 hole radii), layers in 30 %,
leaks past the element in 15 % of the packer tests, radii off by 2 and 4 %, release over 0 to 3 s,
static level off by 8 mm. Nothing of the program is used.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from real_ground import RealGround, held_response, slug_response

GRAVITY, RHO = 9.80665, 999.7
FAMILIES = {"screen": 0.2, "straddle": 0.3, "below packer": 0.2, "pulse": 0.1, "steps": 0.2}
SECONDS = 600.0  # [s] of one pressure step


@dataclass(frozen=True)
class Faults:
    """What may go wrong with instruments; 0 means nothing."""

    clock_s: float = 0.0
    late_lags: float = 0.0
    drift_m_per_h: float = 0.0
    quantum_m: float = 0.0
    release_s: float = 0.0
    static_sd_m: float = 0.0
    riser: float = 1.0
    stop_at: float = 0.0
    ripple_m: float = 0.0


@dataclass
class Case:
    """One test: its family, the truth, and its rows for the tables."""

    name: str
    family: str
    k: float
    about: dict[str, float]
    tables: dict[str, list[dict[str, object]]] = field(default_factory=dict)


def log_between(rng: np.random.Generator, low: float, high: float) -> float:
    """One log-uniform draw."""
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


@dataclass(frozen=True)
class Clean:
    """What a set of tests leaves out of the mixture, or fixes."""

    kv_kh: tuple[float, float] = (0.05, 1.0)
    skin_share: float = 0.6
    layer_share: float = 0.3
    leak_share: float = 0.15
    radius_sd: tuple[float, float] = (0.02, 0.04)
    release_s: float = 3.0
    static_sd_m: float = 0.008
    tell_kv: bool = False
    tell_development: str = ""
    outside_share: float = 0.5
    tell_pack: bool = True


MIXTURE = Clean()
CLEAN = Clean((1.0, 1.0), 0.0, 0.0, 0.0, (0.0, 0.0), 0.0, 0.0, True, "thorough", 0.5)


def ground_of(
    rng: np.random.Generator, family: str, rules: Clean
) -> tuple[RealGround, dict[str, float]]:
    """A zone in its ground, and what else is known of it."""
    length, hole = log_between(rng, 0.8, 6.0), float(rng.uniform(0.04, 0.075))
    riser = float(rng.choice([0.0127, 0.019, 0.025]))
    static, above, below = (
        rng.uniform(2, 12),
        log_between(rng, 2.0, 20.0),
        log_between(rng, 3.0, 30.0),
    )
    k = {"pulse": log_between(rng, 1e-12, 1e-9), "steps": log_between(rng, 2e-8, 1e-5)}.get(
        family, log_between(rng, 1e-8, 2e-5)
    )
    surface, known = np.pi * riser**2, {"riser": riser, "static": float(static)}
    if family == "pulse":
        volume = np.pi * hole**2 * length + log_between(rng, 0.002, 0.02)
        soft = 4.6e-10 * log_between(rng, 3.0, 15.0)
        surface = volume * soft * RHO * GRAVITY
        known |= {"volume": volume, "soft": soft}
    if family == "crossing":
        above, length, hole, riser = 0.0, rng.uniform(1.5, 4.0), rng.uniform(0.06, 0.1), 0.025
        surface, known["riser"] = np.pi * riser**2, riser
        n = float(rng.uniform(0.2, 0.35))
        area = n * np.pi * (hole**2 - 0.03**2)
        known |= {
            "pack": n,
            "pack_area": area,
            "link": 2 * np.pi * length * 3e-3 / np.log(hole / 0.03),
        }
        k = log_between(rng, 1e-7, 2e-5)
    top, bottom = above, above + length
    layers = []
    if rng.random() < rules.layer_share:
        at = max(0.0, top - rng.uniform(0.0, 1.0))
        while at < bottom + 0.5:
            thick = log_between(rng, 0.15, 0.8)
            layers.append((at, at + thick, k * float(np.exp(rng.normal(0.0, 1.0)))))
            at += thick
    skinned = rng.random() < rules.skin_share
    skin = log_between(rng, 0.2, 4.0) if skinned else 1.0
    out = float(rng.uniform(1.3, 3.0)) if skinned else 0.0
    g = RealGround(
        top=top,
        bottom=bottom,
        hole=hole,
        k=k,
        surface=surface,
        base=bottom + below,
        kv_kh=log_between(rng, *rules.kv_kh) if rules.kv_kh[0] < rules.kv_kh[1] else rules.kv_kh[0],
        storage=log_between(rng, 1e-6, 5e-5),
        layers=tuple(layers),
        skin=skin,
        skin_radius=out * hole,
    )
    if family == "crossing":
        g = replace(g, pack_area=known["pack_area"], pack_link=known["link"])
    if family in ("straddle", "below packer", "pulse", "steps"):
        g = replace(
            g,
            open_above=max(above - 1.0, 0.3),
            open_below=0.0 if family == "below packer" else max(below - 1.5, 0.3),
            annulus=np.pi * (hole**2 - (riser + 0.004) ** 2),
        )
        if rng.random() < rules.leak_share:
            conductance = 2 * np.pi * length * g.zone_k / 3.5
            g = replace(g, leak=conductance * log_between(rng, 0.05, 1.0))
    return g, known


def case(rng: np.random.Generator, name: str, family: str, rules: Clean, faults: Faults) -> Case:
    """One test of one family, with its rows."""
    while True:
        g, known = ground_of(rng, family, rules)
        lag = g.surface * 3.5 / (2 * np.pi * g.length * g.zone_k)
        column = g.top + 1.0
        if family in ("steps", "pulse") or lag * np.sqrt(GRAVITY / column) > 8.0:
            break
    about = {
        "kv_kh": g.kv_kh,
        "skin": g.skin,
        "skin_radius": g.skin_radius / g.hole,
        "layers": len(g.layers),
        "leak": g.leak,
        "lag": lag,
    }
    one = Case(name, family, g.zone_k, about)
    shape = _shape_rows(rng, one, g, known, rules)
    if family == "steps":
        _steps(rng, one, g, known, rules)
    else:
        _readings(rng, one, g, known, rules, faults, lag, shape)
    return one


def _shape_rows(
    rng: np.random.Generator, one: Case, g: RealGround, known: dict[str, float], rules: Clean
) -> dict[str, object]:
    """Borehole, construction, interval and the row of the test, as noted by the crew."""
    static = known["static"]
    top, bottom = static + g.top, static + g.bottom
    number = int(one.name.split("-")[-1])
    radius = g.hole * (1 + rng.normal(0.0, rules.radius_sd[1]))
    riser = known["riser"] * (1 + rng.normal(0.0, rules.radius_sd[0]))
    hole = one.name
    one.tables["boreholes"] = [
        {
            "borehole": hole,
            "x": 500_000 + 20 * (number % 40),
            "y": 5_300_000 + 20 * (number // 40),
            "ground_elevation_m": 100,
            "depth_m": round(static + g.base, 3),
        }
    ]
    screened = one.family in ("screen", "crossing")
    built = [
        (0.0, max(0.5, static - 1.5), "casing", 2100 * radius),
        (max(0.5, static - 1.5), static + g.base, "open hole", 2000 * radius),
    ]
    start = static - 1.0 if one.family == "crossing" else top
    if screened:
        built = [
            (start - 0.3, bottom + 0.3, "filter pack", 2000 * radius),
            (start, bottom, "screen", 2000 * riser),
        ]
        if one.family == "screen":  # the zone is the packed length between seals
            built[0] = (top, bottom, "filter pack", 2000 * radius)
    one.tables["construction"] = [
        {
            "borehole": hole,
            "top_m": round(max(a, 0.0), 4),
            "bottom_m": round(b, 4),
            "kind": kind,
            "diameter_mm": round(d, 3),
            "porosity": known["pack"]
            if kind == "filter pack" and rules.tell_pack and "pack" in known
            else "",
        }
        for a, b, kind, d in built
    ]
    isolation = {"screen": "screen", "crossing": "screen", "below packer": "below packer"}.get(
        one.family, "straddle"
    )
    one.tables["intervals"] = [
        {
            "interval": hole,
            "borehole": hole,
            "top_m": round(start, 4),
            "bottom_m": round(bottom, 4),
            "isolation": isolation,
            "static_depth_m": round(static, 4),
            "development": rules.tell_development,
        }
    ]
    row: dict[str, object] = {
        "test": hole,
        "interval": hole,
        "kind": "falling head",
        "aquifer": "unconfined",
        "riser_diameter_mm": round(2000 * riser, 3),
        "aquifer_thickness_m": round(g.base, 3),
        "kv_kh": g.kv_kh if rules.tell_kv else "",
        "water_temperature_c": 10,
        "riser_outer_diameter_mm": round(2000 * riser + 8, 2) if g.annulus else "",
    }
    if one.family == "pulse":
        row |= {
            "kind": "pressure pulse",
            "riser_diameter_mm": "",
            "riser_outer_diameter_mm": "",
            "shut_in_volume_l": round(1e3 * known["volume"], 4),
            "system_compressibility_per_pa": known["soft"]
            * float(np.exp(rng.normal(0, 0.1 if rules.radius_sd[0] else 0))),
        }
    if one.family == "steps":
        row |= {"kind": "constant head", "riser_diameter_mm": 50.0, "riser_outer_diameter_mm": ""}
    one.tables["tests"] = [row]
    return row


def _readings(
    rng: np.random.Generator,
    one: Case,
    g: RealGround,
    known: dict[str, float],
    rules: Clean,
    faults: Faults,
    lag: float,
    row: dict[str, object],
) -> None:
    """The logger's record, with every fault of the instruments."""
    times, heads, outside = slug_response(g, 25.0 * lag)
    release = max(faults.release_s, rng.uniform(0.0, rules.release_s) if rules.release_s else 0.0)
    if one.family == "pulse":
        release = min(release, 1.0)
    target = faults.stop_at or rng.uniform(0.04, 0.18)
    last = float(np.interp(-target, -heads, times)) if heads.min() < target else times[-1]
    initial = log_between(rng, 0.3, 2.0) * (10.0 if one.family == "pulse" else 1.0)
    count = int(log_between(rng, 100, 600))
    step = max(round(last / count, 1), 0.5)
    even = rng.random() < 0.5
    t = (
        np.arange(0.0, last + step, step)
        if even or step <= 0.5
        else np.unique(
            np.append(0.0, np.round(np.geomspace(max(0.5, last / 3000), last, count), 2))
        )
    )
    shift = np.linspace(0.0, release, 9) if release > 0 else np.zeros(1)

    def sampled(curve: np.ndarray) -> np.ndarray:
        return np.mean([np.where(t >= s, np.interp(t - s, times, curve), 0.0) for s in shift], 0)

    value, ring = initial * sampled(heads), initial * sampled(outside)
    noise = log_between(rng, 0.0005, 0.003)
    value = (
        value
        + rng.normal(0.0, noise, t.size)
        + rng.normal(0.0, max(rules.static_sd_m, faults.static_sd_m))
    )
    value += faults.drift_m_per_h / 3600.0 * t + faults.ripple_m * np.sin(2 * np.pi * t / 7.3)
    if faults.quantum_m:
        value = np.round(value / faults.quantum_m) * faults.quantum_m
    if faults.late_lags:
        late = t >= faults.late_lags * lag
        t, value, ring = t[late] - t[late][0], value[late], ring[late]
    t = t + faults.clock_s
    rising = one.family == "crossing" or (one.family != "pulse" and rng.random() < 0.5)
    sign = -1.0 if rising else 1.0
    if rising:
        row["kind"] = "rising head"
    if rng.random() < 0.7 and one.family not in ("pulse", "crossing"):
        row["expected_displacement_m"] = round(sign * initial * (1 + rng.normal(0.0, 0.03)), 4)
    row["riser_diameter_mm"] = (
        round(float(row["riser_diameter_mm"]) * faults.riser, 3) if row["riser_diameter_mm"] else ""
    )
    read_outside = bool(g.annulus) and one.family != "pulse" and rng.random() < rules.outside_share
    one.about["outside"] = float(read_outside)
    ring = ring + rng.normal(0.0, noise, t.size)
    one.tables["readings"] = [
        {
            "test": one.name,
            "elapsed_s": round(float(a), 3),
            "displacement_m": round(float(sign * b), 5),
            "outside_displacement_m": round(float(sign * c), 5) if read_outside else "",
        }
        for a, b, c in zip(t, value, ring, strict=True)
    ]


def _steps(
    rng: np.random.Generator, one: Case, g: RealGround, known: dict[str, float], rules: Clean
) -> None:
    """Five pressure steps of ten minutes each; flow is the mean of the last five minutes."""
    g = replace(g, annulus=np.pi * (g.hole**2 - 0.029**2))
    one.tables["tests"][0]["riser_outer_diameter_mm"] = 58.0
    times, flow, ring = held_response(g, 5.5 * SECONDS)
    base = known["static"] + 1.5 + log_between(rng, 1.0, 10.0)
    heads = base * np.array([1.0, 2.0, 3.0, 2.0, 1.0])
    rise = np.diff(np.append(0.0, heads))
    rows = []
    for i in range(5):
        at = np.linspace((i + 0.5) * SECONDS, (i + 1) * SECONDS, 11)
        q = sum(rise[j] * np.interp(at - j * SECONDS, times, flow) for j in range(i + 1)).mean()
        q *= 1 + rng.normal(0.0, 0.02)
        gauge = RHO * GRAVITY * (heads[i] - known["static"] - 1.0) / 1e3
        outside = sum(rise[j] * np.interp(at[-1] - j * SECONDS, times, ring) for j in range(i + 1))
        rows.append(
            {
                "test": one.name,
                "step": i + 1,
                "gauge_pressure_kpa": round(gauge, 2),
                "gauge_height_m": 1.0,
                "flow_l_min": round(6e4 * float(q), 5),
                "minutes": 10,
                "outside_head_m": float(outside),
            }
        )
    read = rng.random() < rules.outside_share
    one.about["outside"] = float(read)
    for row in rows:
        noisy = row["outside_head_m"] + rng.normal(0.0, 0.01)
        row["outside_head_m"] = round(noisy, 3) if read else ""
    one.tables["pressure_steps"] = rows


def mixture(
    seed: int,
    count: int,
    rules: Clean = MIXTURE,
    faults: Faults = Faults(),
    families: dict[str, float] | None = None,
) -> list[Case]:
    """`count` tests of all families."""
    rng = np.random.default_rng(seed)
    shares = families or FAMILIES
    names, weight = list(shares), np.array(list(shares.values()))
    chosen = rng.choice(names, size=count, p=weight / weight.sum())
    return [
        case(np.random.default_rng([seed, i]), f"T-{i}", str(f), rules, faults)
        for i, f in enumerate(chosen)
    ]


def write(cases: list[Case], folder: Path) -> Path:
    """The tables of all cases as CSV files in a folder with its site.toml."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "site.toml").write_text(
        'crs = "EPSG:32632"\nname = "calibration"\nvertical_datum = "local"\n'
    )
    for table in ("boreholes", "construction", "intervals", "tests", "readings", "pressure_steps"):
        rows = [row for c in cases for row in c.tables.get(table, [])]
        if not rows:
            continue
        names = list(dict.fromkeys(name for row in rows for name in row))
        lines = [",".join(names), *(",".join(str(row.get(n, "")) for n in names) for row in rows)]
        (folder / f"{table}.csv").write_text("\n".join(lines) + "\n")
    return folder


def hole(seed: int, kind: str, name: str = "H") -> list[Case]:
    """Slug tests of one hole in 12 m of layered rock: 29 zones of 1, 3 and 6 m.

    `kind` is none, tight (K/4 to 2 rw), open (4 K to 2 rw) or flat (Kv/Kh .1).
    """
    rng = np.random.default_rng([seed, 77])
    edges = np.arange(8.0, 26.0, 0.5)
    log_k = np.zeros(edges.size)
    for i in range(edges.size):  # exponential correlation over .7 m
        r = np.exp(-0.5 / 0.7)
        last = log_k[i - 1] if i else rng.normal()
        log_k[i] = r * last + np.sqrt(1 - r * r) * rng.normal()
    k = np.exp(np.log(1e-6) + log_k)
    layers = tuple((float(a), float(a + 0.5), float(b)) for a, b in zip(edges, k, strict=True))
    zones = [(11.0 + i, 1.0) for i in range(12)] + [(11.0 + i, 3.0) for i in range(10)]
    zones += [(11.0 + i, 6.0) for i in range(7)]
    radius, riser, static = 0.048, 0.019, 5.0
    out = []
    for i, (top, length) in enumerate(zones):
        g = RealGround(
            top=top,
            bottom=top + length,
            hole=radius,
            k=1e-6,
            surface=np.pi * riser**2,
            base=40.0,
            kv_kh=0.1 if kind == "flat" else 1.0,
            storage=1e-5,
            layers=layers,
            skin={"tight": 0.25, "open": 4.0}.get(kind, 1.0),
            skin_radius=2 * radius if kind in ("tight", "open") else 0.0,
            open_above=top - 1.5,
            open_below=8.0,
            annulus=np.pi * (radius**2 - (riser + 0.004) ** 2),
        )
        one = Case(f"{name}-{i}", f"{length:g} m", g.zone_k, {"shift": 0.0})
        lag = g.surface * 3.5 / (2 * np.pi * length * g.zone_k)
        rules = Clean((1.0, 1.0), 0, 0, 0, (0.0, 0.0), 1.0, 0.004, False, "", 1.0)
        known = {"riser": riser, "static": static}
        shape = _shape_rows(rng, one, g, known, rules)
        if i:
            one.tables["boreholes"], one.tables["construction"] = [], []
        else:
            one.tables["boreholes"][0]["borehole"] = name
            for row in one.tables["construction"]:
                row["borehole"] = name
        one.tables["intervals"][0]["borehole"] = name
        _readings(rng, one, g, known, rules, Faults(), lag, shape)
        out.append(one)
    return out
