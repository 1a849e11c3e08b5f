"""`python -m autoplace` is the same as `autoplace`."""

import sys

from autoplace.cli import main

if __name__ == "__main__":
    sys.exit(main())
