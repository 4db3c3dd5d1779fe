"""The field plan of a borehole: zones, glands, pipes, pressures, tests, purge volumes and times."""

from geoprofile.fieldplan.planning import PURPOSES, make_plan
from geoprofile.fieldplan.records import Choices, ExpectedK, Plan, Visit
from geoprofile.fieldplan.visits import expected_k

__all__ = ["PURPOSES", "Choices", "ExpectedK", "Plan", "Visit", "expected_k", "make_plan"]
