"""The one SQLite file that daemon and page share, and the live board beside it."""

import sys

# sqlite-utils loads numpy and pandas wherever they are installed, only to know their types should
# somebody insert one. In a daemon that runs for months that is 20 MB for nothing, so both are
# made to look absent while it is imported, and are there again afterwards for whoever needs them.
_unwanted = [name for name in ("numpy", "pandas") if name not in sys.modules]
for _name in _unwanted:
    sys.modules[_name] = None  # type: ignore[assignment] # this is how an import is refused
try:
    import sqlite_utils  # noqa: F401 - imported for its effect on the imports that follow
finally:
    for _name in _unwanted:
        del sys.modules[_name]
