"""`python -m hangroom` is the same as `hangroom`."""

import sys

from hangroom.cli import main

if __name__ == "__main__":
    sys.exit(main())
