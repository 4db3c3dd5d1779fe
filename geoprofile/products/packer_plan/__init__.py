"""The field plan of a borehole: zones, packer elements, pipes, pressures, tests, purge volumes and times."""

from geoprofile.products.packer_plan.compute import PURPOSES, make_plan
from geoprofile.products.packer_plan.plan import Choices, ExpectedK, Plan, Visit
from geoprofile.products.packer_plan.visits import expected_k

__all__ = ["PURPOSES", "Choices", "ExpectedK", "Plan", "Visit", "expected_k", "make_plan"]
