"""The fixtures of the forecast desk's tests; what they share lies beside, in `asked`."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
