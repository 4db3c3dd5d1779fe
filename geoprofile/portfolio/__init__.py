"""Many sites at once: found in a folder, computed each by itself, gathered into one picture."""

from geoprofile.portfolio.dataset import partitions, write_partition
from geoprofile.portfolio.facts import SITES, TESTS, Facts, facts_of, failed, place_of, ranked
from geoprofile.portfolio.package import frames, write_package
from geoprofile.portfolio.page import page, paid_for
from geoprofile.portfolio.postgis import push, refuse_unusable
from geoprofile.portfolio.sites import Place, find_sites, state_of

__all__ = [
    "SITES",
    "TESTS",
    "Facts",
    "Place",
    "facts_of",
    "failed",
    "find_sites",
    "frames",
    "page",
    "paid_for",
    "partitions",
    "place_of",
    "push",
    "ranked",
    "refuse_unusable",
    "state_of",
    "write_package",
    "write_partition",
]
