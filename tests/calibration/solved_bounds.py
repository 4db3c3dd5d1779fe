"""What the solved sites allow: fields that know more than any crew, judged as fields are.

    python tests/calibration/solved_bounds.py choose|report|all [NUMBER ...]

prints a line a site and the means of three: a constant mean fitted to the site's own tests; the
same tests with the covariance that `PLACES` tests anywhere in the ground have; and a field from
those tests themselves, which nobody could pay for.
"""

import sys
from dataclasses import replace

import numpy as np
import solved_sites
from plume_sites import from_map, reported, to_map
from solved_scores import halves, of_rows
from solved_sites import CRITERION, found_by

from geoprofile import kriging

PLACES, HALF_M = 350, 1.0  # tests of the ground, and half their length
SHOWN = ("iou", "log_loss", "lost")


def anywhere(site, rng):
    """Tests at random places of the mapped ground, with the site's reporting limit."""
    rows = rng.choice(len(site.cells), PLACES, replace=False)
    ends = HALF_M * np.array([[0, 0, 1.0], [0, 0, -1.0]])
    lines = [place + ends for place in from_map(site.cells[rows], site.turn)]
    value = np.array([found_by(line, site.fields, rng) for line in lines])
    mapped = [to_map(line, site.turn) for line in lines]
    return reported(mapped, value, np.full(PLACES, site.limit), np.arange(PLACES))


def fields_of(site):
    """The three fields by name."""
    rng = np.random.default_rng(site.number)
    dense = kriging.fit(anywhere(site, rng), rng=rng, prior=site.prior, mean="constant")
    own = kriging.fit(site.data, rng=rng, prior=site.prior, mean="constant")
    told = replace(own.members[0], parameters=dense.members[0].parameters)
    return {"own tests": own, "covariance told": replace(own, members=(told,)), "anywhere": dense}


def judged(site):
    """IoU, log-loss and the share of plume called below 5 % of each."""
    real = site.truth > CRITERION
    found = {}
    for name, model in fields_of(site).items():
        chance = model.both(site.cells, CRITERION, probabilities=(0.1, 0.9)).exceedance
        found[name] = [of_rows(chance, real)[key] for key in SHOWN]
    return found


def main(which, *numbers):
    """Judge every site and print the means."""
    scores = []
    print("site", *SHOWN)
    for number in map(int, numbers) if numbers else halves(which):
        site = solved_sites.site(number)
        scores.append(judged(site))
        told = [f"{name} {np.round(row, 3).tolist()}" for name, row in scores[-1].items()]
        print(number, site.geology, site.story, len(site.spots), *told, sep=" | ", flush=True)
    for name in scores[0]:
        print(f"{name:16s}", np.round(np.mean([s[name] for s in scores], axis=0), 3).tolist())


if __name__ == "__main__":
    main(*sys.argv[1:])
