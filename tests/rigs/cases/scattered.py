"""Cases whose parts scatter, for tests of tolerance studies."""

from __future__ import annotations

from typing import Any

import numpy as np

from stringflux.cases.files.load import built_in_uses
from stringflux.cases.studies.tolerance.causes import Causes
from stringflux.geometry.arrays import Array
from stringflux.geometry.case.model import Case
from stringflux.geometry.reading.read import read_case

NONE = {name: 0 for name in ("remanence", "remanence_each", "coercivity", "coercivity_each", "charge", "charge_each",
                             "turns", "wire", "pinning", "pinning_each")} | {
    name: "0 mm" for name in ("height", "gap", "gap_each", "position", "position_each")}


def read(document: dict[str, Any]) -> Case:
    return read_case(document, materials=built_in_uses())


def one(causes: Causes, **t: float) -> Array:
    """Deviations over their limits: coercivity=1, height_3=-1."""
    out = np.zeros(causes.size)
    for key, value in t.items():
        name, _, number = key.rpartition("_") if key[-1].isdigit() else (key, "", "0")
        out[causes.places()[name, int(number)]] = value
    return out
