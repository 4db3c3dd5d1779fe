"""The package for whoever takes the site over: layers, words, losses, and the way to redo it."""

from __future__ import annotations

from geoprofile.handover.packing import Delivered, hand_over
from geoprofile.handover.private import without_private
from geoprofile.handover.review import compute_tables, reproduce

__all__ = ["Delivered", "compute_tables", "hand_over", "reproduce", "without_private"]
