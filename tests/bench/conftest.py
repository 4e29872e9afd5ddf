"""Lets the tests of this folder use the benchmarks' own parts, under the name mypy knows."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
