"""Lets the tests of this folder share `fake_time.py`, under the name the type checker knows."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
