r"""Readings of a magnet that falls, or is moved, through a coil, against its passage.

    emf peak    |e| of the first or second peak of e = −λ'(z) v, let go at that height, or moved at that speed
    flux step   |∫ e dt| of one peak, which is N ΔΦ however fast the magnet goes

The doubt of both is 1 % for the method; of a peak also what the uncertainty of height or speed does, by two passages.

References
----------
Derived here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.demonstrations.falling import FallingMagnet
from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.geometry.units import mm
from stringflux.postprocess.falling.passage import Passage
from stringflux.postprocess.falling.passing import passage
from stringflux.postprocess.readings.parameters import OWN_FIELD
from stringflux.postprocess.readings.reading import PEAKS, Reading, Residual
from stringflux.solver.falling.magnet import magnet_in_air
from stringflux.solver.materials.lookup import find_material

from ..solved.solve_row import one_thread
from .study import Stage, Study


class FallingModel:
    """The passages that readings ask for, each computed once.

    Parameters
    ----------
    case : FallingMagnet
    quality : {"draft", "normal", "fine"}
        Of meshes with a core.
    """

    def __init__(self, case: FallingMagnet, quality: str) -> None:
        named = (case.magnet.material, *(part.material for part in (case.core, case.tube) if part is not None))
        self.case, self.quality = case, QUALITIES[quality]
        self.materials = {name: find_material(name) for name in named}
        with one_thread():
            self.magnet = magnet_in_air(case.magnet.part(0.0), self.materials)
        self._made: dict[tuple[float | None, float | None], Passage] = {}

    def predict(self, readings: Sequence[Reading], state: Mapping[str, float]) -> Array:
        """Predicted values (n,); nothing of it is fitted."""
        return np.array([self.value(r, r.height, r.speed) for r in readings])

    def value(self, r: Reading, height: float | None, speed: float | None) -> float:
        """What would be read from that height or at that speed.

        Raises
        ------
        CaseError
            If the magnet is too fast in its tube.
        """
        key = (height, speed)
        if key not in self._made:
            drop = self.case.drop.model_copy(
                update={name: v for name, v in (("start", height), ("speed", speed)) if v is not None})
            with one_thread():
                self._made[key] = passage(self.case.model_copy(update={"drop": drop}), self.materials, self.magnet,
                                          self.quality)
        found, k = self._made[key], PEAKS.index(r.peak)
        return abs((found.first, found.second)[k].e if r.quantity == "emf peak" else found.changes[k])

    def doubt(self, r: Reading, value: float) -> float:
        """One σ of a prediction."""
        ends = [value, value]
        if r.height is not None and r.height_uncertainty > 0:
            ends = [self.value(r, r.height + k * r.height_uncertainty, None) for k in (-1, 1)]
        if r.speed is not None and r.speed_uncertainty > 0:
            ends = [self.value(r, None, r.speed + k * r.speed_uncertainty) for k in (-1, 1)]
        return math.hypot(OWN_FIELD * value, (ends[1] - ends[0]) / 2)


def study_falling(case: FallingMagnet, readings: Sequence[Reading], quality: str, progress: Stage) -> Study:
    """Compare readings with the passage of a magnet.

    Raises
    ------
    CaseError
        For a height at which the magnet is in the coil already, or one from which it is too fast in its tube.
    """
    least = (case.coil.length + case.magnet.length) / 2
    for r in readings:
        if r.height is not None and r.height - r.height_uncertainty < least:
            raise CaseError(f'line {r.line}, column "height": at {mm(r.height)}, less its uncertainty, the magnet '
                            f"is in the coil already; it is let go at {mm(least)} or higher, middle over middle")
    progress("magnet", 0.1)
    model = FallingModel(case, quality)
    rows = []
    for k, r in enumerate(readings):
        progress("passages", 0.2 + 0.8 * k / len(readings))
        value = float(model.predict([r], {})[0])
        doubt, off = model.doubt(r, value), r.value - value
        rows.append(Residual(reading=r, predicted=value, difference=off, doubt=doubt,
                             sigma=off / math.hypot(r.uncertainty, doubt)))
    return Study(residuals=tuple(rows), start={}, fit=None, notes=(), model=model)
