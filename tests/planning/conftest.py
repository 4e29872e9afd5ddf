"""Lets the tests of this folder share `made_forecast.py`, under the name the type checker knows."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
