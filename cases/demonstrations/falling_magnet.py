"""The demonstration "falling-magnet": a magnet that falls, or is moved by hand, through a round coil.

It has cases of its own (:mod:`stringflux.geometry.demonstrations.falling`); :data:`SHIPPED` lie beside this file.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from stringflux.geometry.demonstrations.falling import FallingMagnet, read_falling
from stringflux.geometry.mesh.pole import QUALITIES
from stringflux.postprocess.demonstrations.falling_shown import falling_shown
from stringflux.postprocess.demonstrations.falling_view import FallingLines, window
from stringflux.postprocess.demonstrations.record import Demonstration
from stringflux.postprocess.falling.lines import field_lines
from stringflux.postprocess.falling.passage import Passage
from stringflux.postprocess.falling.passing import passage
from stringflux.solver.falling.core import in_mesh
from stringflux.solver.falling.magnet import MagnetInAir, magnet_in_air
from stringflux.solver.materials.kinds import Materials
from stringflux.solver.materials.lookup import find_material

from ..output.document import CaseSource
from ..pickup_fields import Progress, nobody
from ..solved.solve_row import one_thread
from .own_case import read_own

SHIPPED = ("falling-magnet", "magnet-in-a-tube", "magnet-onto-steel")
PICTURES = 8
"""Places at which the field is drawn with a core in it."""


def read(which: str, changes: Mapping[str, Any]) -> tuple[FallingMagnet, CaseSource]:
    """The case, and where it came from.

    Parameters
    ----------
    which : str
        A file, or the name of a shipped one.

    Raises
    ------
    CaseError
        If there is no such case, or it says something that cannot be; one sentence.
    """
    return read_own(which, changes, shipped=SHIPPED, table="magnet", read=read_falling)


def demonstrate(case: FallingMagnet, quality: str, progress: Progress = nobody) -> Demonstration:
    """The passage, drawn and told.

    Raises
    ------
    CaseError
        If the magnet is too fast in its tube.
    """
    named = (case.magnet.material, *(part.material for part in (case.core, case.tube) if part is not None))
    materials = {name: find_material(name) for name in named}
    with one_thread():
        progress("magnet", 0.1)
        magnet = magnet_in_air(case.magnet.part(0.0), materials)
        progress("flux over its way", 0.3)
        found = passage(case, materials, magnet, QUALITIES[quality])
        progress("pictures", 0.7)
        lines = _lines(case, found, magnet, materials)
    return falling_shown(case, found, lines)


def _lines(case: FallingMagnet, found: Passage, magnet: MagnetInAir, materials: Materials) -> FallingLines:
    reach = 1.2 * max(map(abs, window(case)))
    if case.core is None:
        return FallingLines(sets=(field_lines(magnet.section, magnet.state, reach),))
    high = min(float(found.z.max()), window(case)[3] + case.magnet.length / 2)
    away = np.geomspace(case.nearest - case.core_top, high - case.core_top, PICTURES)
    places = case.core_top + away
    sets = []
    for z in places:
        solved = in_mesh(case.magnet.part(float(z)), case.core_part(), case.coil.racetrack(), materials,
                         QUALITIES["draft"])
        sets.append(field_lines(*solved, reach))
    return FallingLines(sets=tuple(sets), places=places)
