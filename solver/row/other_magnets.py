"""The same row with its magnets in another state: charge, coercivity or remanence changed, everything else kept.

The meshes, the small-signal cells, the coil and the tables know nothing of the state of a magnet (its signal
answers by the reversible permeability), so only the bias is solved again. The reversible permeability of soft parts
stays that of the first row: it shifts by less than its own doubt while the bias moves by some tenths.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from stringflux.geometry.shapes.magnet_state import AS_GRADED
from stringflux.geometry.shapes.row import PlacedPole, PoleShape

from .coupling import RowPole, couple_bias
from .pole import PoleCells
from .ring_table import PoleField
from .solve import SolvedRow


def with_magnets(row: SolvedRow, shapes: Sequence[PoleShape], history: str) -> SolvedRow:
    """Solve the bias of a row again.

    Parameters
    ----------
    row : SolvedRow
    shapes : sequence of PoleShape
        One per pole: the row's own, but for the `state` of their parts.
    history : {"before", "after"}
        Whether the magnets were charged before or after assembly.

    Raises
    ------
    SolveError
        When Newton's method or the coupling does not settle.
    ValueError
        When a shape differs in more than that.
    """
    cells = dict(row.cells)
    places = []
    for place, shape in zip(row.places, shapes, strict=True):
        if _outlines(shape) != _outlines(place.shape):
            raise ValueError("shapes: only the state of magnets may differ from the row's own")
        if shape not in cells:
            cells[shape] = _in_state(row.cells[place.shape], shape)
        places.append(replace(place, shape=shape))
    bias = couple_bias([_row_pole(p, cells[p.shape]) for p in places], history, row.numerics)
    fields = []
    for place, *excitations in zip(places, bias.charges, row.signal.charges, strict=True):
        c = cells[place.shape]
        rings = [np.stack([c.near.spread[m].T @ q for m, q in enumerate(charges)]) for charges in excitations]
        fields.append(PoleField(c.table, np.stack(rings)))
    return replace(row, places=tuple(places), cells=cells, bias=bias, face_bands={},
                   field=replace(row.field, places=tuple(places), poles=fields))


def _outlines(shape: PoleShape) -> PoleShape:
    return PoleShape(parts=tuple(replace(part, state=AS_GRADED) for part in shape.parts))


def _in_state(cells: PoleCells, shape: PoleShape) -> PoleCells:
    """The cells on the same mesh; the old state is where Newton starts."""
    bias = cells.bias.on(replace(cells.section, shape=shape))
    tangent = cells.bias.run(cells.tangent)
    alone = bias.solve(start=cells.alone, tangent=tangent)
    return replace(cells, section=bias.section, bias=bias, alone=alone, tangent=tangent)


def _row_pole(place: PlacedPole, cells: PoleCells) -> RowPole:
    return RowPole(place=place, bias=cells.bias, alone=cells.alone, tangent=cells.tangent, signal=cells.signal,
                   far=cells.far)
