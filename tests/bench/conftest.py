"""Lets bench tests import the cases beside them."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
