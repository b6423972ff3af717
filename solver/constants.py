"""Constants of nature used by the solver, SI."""

from __future__ import annotations

import math

MU0 = 4e-7 * math.pi
"""Magnetic constant, H/m (the 2019 SI value differs in the tenth digit)."""
NU0 = 1.0 / MU0
"""Its inverse, m/H."""
