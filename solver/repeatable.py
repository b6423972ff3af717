"""Multigrid that is the same on every run: pyamg estimates spectral radii from a vector that it draws at random."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import numpy as np


@contextmanager
def repeatable() -> Iterator[None]:
    """Let numpy's own generator begin at the same place within the block, and go on afterwards as if nothing was."""
    state = np.random.get_state()  # it is this one that pyamg draws from
    np.random.seed(0)
    try:
        yield
    finally:
        np.random.set_state(state)
