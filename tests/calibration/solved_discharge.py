"""Whether ranges of the mass discharge hold what flow and transport carried, on the solved sites.

    python tests/calibration/solved_discharge.py choose|report|all FILE [NUMBER ...]

writes one line of JSON a site to FILE and prints how many ranges hold the truth. K is that of the
same intervals, the gradient a plane through the heads of the holes, as the program has them.
"""

import json
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import solved_scores
import solved_sites
from plume_sites import from_map, to_map
from solved_sites import GRID, WIDTH_M

from geoprofile import kriging
from geoprofile.products.discharge.fluxes import simulated_fluxes
from geoprofile.products.discharge.gradients import Gradient
from geoprofile.products.discharge.mass_flux import structural_range
from geoprofile.products.discharge.transects import Cells
from geoprofile.products.heads.flow import head_plane

NOISE_K = 0.1  # [log10] of a test of K
REALISATIONS = 200
STATIONS = (0.35, 0.65)  # planes lie at these quantiles of the holes along the flow


@dataclass(frozen=True)
class Drawable:
    """A field as the discharge asks for it: values in their unit, and the model behind."""

    model: kriging.Model
    quantity: str = "C"

    @property
    def highest(self):
        """Highest value measured."""
        return 10.0 ** np.max(self.model.data.value[~self.model.data.censored])

    def simulate(self, points, *, realisations, rng):
        """Equally likely fields."""
        return 10.0 ** self.model.simulate(points, realisations=realisations, rng=rng)


def lines_of(site):
    """Tested intervals in the grid: ends along, across, up (n, 2, 3) [m]; and their hole."""
    lines = [from_map(line[[0, -1]], site.turn) for line in site.data.support.lines]
    return np.array(lines), np.asarray(site.data.group)


def field_of_k(site):
    """K of the tested intervals, fitted as the program does."""
    rng = np.random.default_rng([site.number, 31])
    lines, group = lines_of(site)
    value = []
    for line in lines:
        inside = solved_sites.cells_at(
            line[0] + np.linspace(0, 1, 15)[:, None] * np.diff(line, axis=0)
        )
        value.append(np.log10(site.fields["k"][inside].mean()))
    value = np.array(value) + NOISE_K * rng.normal(size=len(value))
    sure = np.full(len(value), NOISE_K**2)
    data = kriging.Data(support=site.data.support, value=value, variance=sure, group=group)
    return kriging.fit(data, prior=site.prior, mean="constant", rng=rng)


def gradient_of(site):
    """A plane through one head of every hole."""
    lines, group = lines_of(site)
    rng = np.random.default_rng([site.number, 32])
    first = [int(np.flatnonzero(group == hole).mean()) for hole in np.unique(group)]
    middles = lines[first].mean(1)
    heads = site.fields["head"][solved_sites.cells_at(middles)] + 0.005 * rng.normal(
        size=len(first)
    )
    found = head_plane(to_map(middles, site.turn)[:, :2], heads)
    known = np.nan_to_num([found.gradient_sd, found.azimuth_sd_deg])
    return Gradient(found.gradient, known[0], found.azimuth_deg, known[1], "heads")


def faces_at(site, station):
    """Faces between two slices of the grid that a section between the holes shows, by index."""
    lines, group = lines_of(site)
    slice_ = int(np.clip(round(station / GRID.size[0]), 1, GRID.shape[0] - 1))
    y, z = (GRID.size[i] * (np.arange(GRID.shape[i]) + 0.5) for i in (1, 2))
    yy, zz = (a.ravel() for a in np.meshgrid(y, z, indexing="ij"))
    reach = site.spots[:, 1].min() - 10.0, site.spots[:, 1].max() + 10.0
    xy = np.column_stack([np.full(len(yy), slice_ * GRID.size[0]), yy])
    deep = solved_sites.bottoms(site.spots, lines, group, xy)
    kept = (yy > max(reach[0], 0)) & (yy < min(reach[1], WIDTH_M)) & (zz > deep)
    return slice_, np.flatnonzero(kept), yy[kept], zz[kept]


def solved_through(site, slice_, kept):
    """What the solved flow carries through the faces [g/d]."""
    nx = GRID.shape[0]
    k, head, now = (site.fields[n].reshape(nx, -1)[:, kept] for n in ("k", "head", "now"))
    a, b = slice_ - 1, slice_
    link = 2 * k[a] * k[b] / (k[a] + k[b]) * GRID.size[1] * GRID.size[2] / GRID.size[0]
    flow = link * (head[a] - head[b])
    carried = np.where(flow > 0, 10 ** now[a], 10 ** now[b])
    return 86.4 * float(flow @ carried)


def section_of(site, slice_, kept, yy, zz):
    """The same faces as the discharge knows a section, drawn so that flow comes from its left."""
    uvw = np.column_stack([np.full(len(yy), slice_ * GRID.size[0]), yy, zz])
    ends = to_map(np.array([[0.0, 0, 0], [0.0, 1, 0]]), site.turn)
    east, north = (ends[1] - ends[0])[:2]
    column, row = np.divmod(kept, GRID.shape[2])
    return Cells(
        yy, zz, to_map(uvw, site.turn), np.full(len(yy), GRID.size[1] * GRID.size[2]),
        np.full(len(yy), np.degrees(np.arctan2(east, north)) % 360), column, row, GRID.size[1:],
        (0.0, 0.0),
    )  # fmt: skip


def judged(site, plume, k):
    """Ranges and truth of every plane."""
    gradient = gradient_of(site)
    length = float(np.median(np.linalg.norm(site.data.support.chord, axis=1)))
    rows = []
    for station in STATIONS:
        faces = faces_at(site, np.quantile(site.spots[:, 0], station))
        if len(faces[1]) < 20:
            continue
        true = solved_through(site, *faces[:2])
        fields = {"K": Drawable(k, "K"), "C": Drawable(plume)}
        drawn = (
            simulated_fluxes(
                [section_of(site, *faces)],
                fields,
                gradient,
                length_m=length,
                realisations=REALISATIONS,
                rng=np.random.default_rng([site.number, 33]),
            )["C"][0].sum(1)
            * GRID.size[1]
            * GRID.size[2]
        )
        low, middle, high = np.quantile(drawn, [0.1, 0.5, 0.9])
        least, most = structural_range(low, high, planes=1)
        rows.append({
            "number": site.number, "geology": site.geology, "true": true, "low": low,
            "median": middle, "high": high, "holds": bool(low <= true <= high),
            "holds_wide": bool(least <= true <= most),
            "below": bool(true < low), "above": bool(true > high),
            "below_wide": bool(true < least), "above_wide": bool(true > most),
        })  # fmt: skip
    return rows


def main(which, path, *numbers):
    """Judge every site and write as it goes."""
    rows = []
    with Path(path).open("w") as file:
        for number in map(int, numbers) if numbers else solved_scores.halves(which):
            site = solved_sites.site(number)
            found = judged(site, solved_scores.fitted(site), field_of_k(site))
            rows += found
            file.writelines(json.dumps(row) + "\n" for row in found)
            file.flush()
    print_shares(rows)


def print_shares(rows):
    """How often ranges hold, and the factor from the median to the truth."""
    for key in ("holds", "below", "above", "holds_wide", "below_wide", "above_wide"):
        print(f"{key:12s} {np.mean([row[key] for row in rows]):.3f}")
    apart = np.log10([max(row["median"], 1e-9) / max(row["true"], 1e-9) for row in rows])
    near = np.mean(np.abs(apart) < np.log10(3))
    print(f"median/true  {10 ** np.median(apart):.2f}, within a factor 3: {near:.2f}")


if __name__ == "__main__":
    main(*sys.argv[1:])
