"""How right and how sure a field is on the solved sites: near holes, far from them, and in all.

    python tests/calibration/solved_scores.py choose|report|all FILE [mean]

writes one line of JSON a site to FILE and prints the means.
"""

import json
import sys
import time
from pathlib import Path

import numpy as np
import solved_sites
from plume_sites import from_map
from scipy.ndimage import gaussian_filter
from scipy.special import ndtr, ndtri
from solved_sites import CRITERION, FAR_M, GRID, NEAR_M, SITES

from geoprofile import kriging
from geoprofile.products.maps.confidence import SPECKS, confident_chances

EDGE = 0.7  # [log10] from the criterion within which the edge is judged
SIMULATED, REALISATIONS = 1500, 100
CONFIDENCE = 0.9  # of the outer and the inner line
CLASSES = (0.0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.4, 0.7, 1.01)  # of chances


def halves(which):
    """Numbers of the sites to choose by (even), to report on (odd), or all."""
    return [n for n in SITES if which == "all" or n % 2 == (which == "report")]


def sites_of(which, numbers):
    """The sites of these numbers, all of a half where none is given; one that fails is told."""
    for number in map(int, numbers) if numbers else halves(which):
        try:
            yield solved_sites.site(number)
        except ValueError as error:
            print(error, flush=True)


def fitted(site, mean="stack", data=None):
    """The field of a site."""
    rng = np.random.default_rng(site.number)
    return kriging.fit(site.data if data is None else data, rng=rng, prior=site.prior, mean=mean)


def judged(site, model):
    """All scores of a field, as a flat record."""
    found = model.both(site.cells, CRITERION, probabilities=(0.1, 0.9))
    chance, real = found.exceedance, site.truth > CRITERION
    score = {"number": site.number, "geology": site.geology, "story": site.story}
    score |= {"holes": len(site.spots), "data": len(site.data)}
    everywhere = np.ones(len(real), dtype=bool)
    near, far = site.gap_m < NEAR_M, site.gap_m > FAR_M
    for name, rows in (("", everywhere), ("near_", near), ("far_", far)):
        score |= {name + key: value for key, value in of_rows(chance[rows], real[rows]).items()}
    score["classes"] = by_class(chance, real)
    low, high = found.quantiles.T
    edge = np.abs(found.median - CRITERION) < EDGE
    score["miss_low"] = share(site.truth[edge] < low[edge])
    score["miss_high"] = share(site.truth[edge] > high[edge])
    low, high = (found.mean + z * found.sd for z in (-1.2816, 1.2816))
    score["miss_low_normal"] = share(site.truth[edge] < low[edge])
    score["miss_high_normal"] = share(site.truth[edge] > high[edge])
    if hasattr(model, "assumed"):
        assumed = model.assumed(site.cells, CRITERION) > 0.5
        score["assumed"] = float(assumed.mean())
        score["assumed_volume"] = float(chance[assumed].sum() / chance.sum())
    return score | volumes(site, model, chance)


def by_class(chance, real):
    """For each class of chances its cells, the sum of the chances, and the cells above."""
    place = np.digitize(chance, CLASSES[1:-1])
    return [
        [int((place == k).sum()), float(chance[place == k].sum()), int(real[place == k].sum())]
        for k in range(len(CLASSES) - 1)
    ]


def said_and_true(scores):
    """Share of the ground that was said to be above and that was, for each class of chances."""
    cells, said, true = np.sum([score["classes"] for score in scores], axis=0).T
    return np.column_stack([said / cells, true / cells])


def of_rows(chance, real):
    """Scores of some cells."""
    safe = np.clip(chance, 1e-4, 1 - 1e-4)
    called = chance > 0.5
    return {
        "iou": float((called & real).sum() / max((called | real).sum(), 1)),
        "log_loss": float(-np.mean(np.log(np.where(real, safe, 1 - safe)))) if len(real) else 0.0,
        "volume": float(chance.sum() / real.sum()) if real.any() else None,
        "expected": float(chance.sum()),
        "true": int(real.sum()),
        "lost": share(chance[real] < 0.05),
        "feigned": share(chance[~real] > 0.95),
        "true_below": share(real[chance < 0.05]),
        "true_above": share(real[chance > 0.95]),
    }


def volumes(site, model, chance):
    """Whether the range of simulated volumes holds the truth."""
    rng = np.random.default_rng(5)
    rows = np.sort(rng.choice(len(site.cells), min(SIMULATED, len(site.cells)), replace=False))
    drawn = model.simulate(site.cells[rows], realisations=REALISATIONS, rng=rng)
    each = (drawn > CRITERION).mean(1)
    scale = chance.mean() / max(each.mean(), 1e-9)
    low, high = np.quantile(each, [0.1, 0.9]) * scale
    true = np.mean(site.truth > CRITERION)
    return {
        "range_low": float(low / true),
        "range_high": float(high / true),
        "range_holds": bool(low <= true <= high),
    } | promised(site, rows, drawn > CRITERION)


def promised(site, rows, hits):
    """Whether the outer line holds the plume at any depth, and the inner one lies inside it.

    Areas [m2] are of columns of the grid that hold one of the cells.
    """
    uvw = from_map(site.cells[rows], site.turn)
    place = np.ravel_multi_index((uvw[:, :2] // GRID.size[:2]).astype(int).T, GRID.shape[:2])
    columns, number = np.unique(place, return_inverse=True)
    by_column = np.zeros((len(hits), len(columns)), dtype=bool)
    for cell, column in enumerate(number):
        by_column[:, column] |= hits[:, cell]
    true = np.zeros(len(columns), dtype=bool)
    np.logical_or.at(true, number, site.truth[rows] > CRITERION)
    order = calm(columns, by_column.mean(0))
    outer, inner = confident_chances(order, by_column, np.ones(len(columns)), CONFIDENCE)
    inside, sure = order >= outer, order > inner
    return {
        "outer_holds": bool((true & ~inside).sum() <= SPECKS * true.sum()),
        "outer_misses": float((true & ~inside).sum() / max(true.sum(), 1)),
        "outer_over_true": float(inside.sum() / max(true.sum(), 1)),
        "outer_of_map": float(inside.mean()),
        "inner_holds": bool((sure & ~true).sum() <= SPECKS * sure.sum()),
        "inner_over_true": float(sure.sum() / max(true.sum(), 1)),
    }


def calm(columns, chance):
    """Chances without the noise of a finite number of fields, as the map has them."""
    scores, known = np.zeros(GRID.shape[:2]), np.zeros(GRID.shape[:2])
    scores.ravel()[columns] = ndtri(np.clip(chance, 0.002, 0.998))
    known.ravel()[columns] = 1.0
    smooth = [gaussian_filter(a, 1.0, mode="constant").ravel()[columns] for a in (scores, known)]
    return ndtr(smooth[0] / smooth[1])


def share(rows):
    """Share of true entries; None where there are none."""
    return float(np.mean(rows)) if len(rows) else None


def means(scores):
    """Mean of every number over the sites that have it."""
    out = {}
    for key in scores[0]:
        values = [s[key] for s in scores if isinstance(s[key], (int, float)) and s[key] is not None]
        if values and key != "number":
            out[key] = float(np.mean(values))
    for name in ("", "near_", "far_"):
        total = [sum(s[name + key] for s in scores) for key in ("expected", "true")]
        out[name + "volume_of_all"] = total[0] / total[1]
    out["lost_worst"] = max(s["lost"] for s in scores if s["lost"] is not None)
    out["loss_worst"] = max(s["log_loss"] for s in scores)
    return out


def main(which, path, mean="stack", *numbers):
    """Judge every site and write as it goes."""
    scores = []
    with Path(path).open("w") as file:
        for site in sites_of(which, numbers):
            begin = time.process_time()
            model = fitted(site, mean)
            fit_s = time.process_time() - begin
            score = judged(site, model) | {"fit_s": fit_s}
            score["weights"] = {
                m.parameters.mean: round(w, 3)
                for w, m in zip(model.weights, model.members, strict=True)
            }
            score["total_s"] = time.process_time() - begin
            scores.append(score)
            file.write(json.dumps(score) + "\n")
            file.flush()
    for key, value in means(scores).items():
        print(f"{key:20s} {value:.3f}")
    for low, (said, true) in zip(CLASSES[:-1], said_and_true(scores), strict=True):
        print(f"chance from {low:.2f}: {said:.4f} said, {true:.4f} above")


if __name__ == "__main__":
    main(*sys.argv[1:])
