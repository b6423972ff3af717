"""`python -m stringflux` is the command `stringflux`."""

from __future__ import annotations

import sys

from stringflux.cases.entry import main

if __name__ == "__main__":
    sys.exit(main())
