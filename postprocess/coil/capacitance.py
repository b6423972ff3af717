"""Capacitance of a winding: between its turns, as they are laid, and to what stands round it.

The voltage U at the terminals falls off evenly from turn to turn. Turns that touch differ by what was wound between
them, and the energy of all pairs, ½ C U², gives

    C = κ g h ℓ/b                    scattered: turns of length ℓ in a window h high and b thick
    C = 4 (n − 1)/(3 n²) q m g ℓ     n layers of m turns to and fro; each touches q of the next layer

Where the thickness b changes along the height it is ∫ ℓ/b dz in place of ℓ h/b: as it grows, every height has turns
in the measure of its own b, and the voltage from inside to outside on that b.

g is what a touching pair has per metre (:mod:`stringflux.solver.capacitance.cell`), in the lattice the turns lie in:
q = 2 in the hexagonal one, 1 in the square one. In n layers the voltage between neighbours runs from 0 to 2 U/n
along them, hence 4/3. κ counts the pairs and their voltages in a scattered section, where g is the square lattice's.
Sections laid turn by turn and solved by finite elements (`python tests/run.py laying`, docs/measured.md) have 1.5 to
2.5 between half and four fifths full: loose turns touch fewer others, but others that were wound longer before. So it
hardly matters how full the window is, and the number of turns not at all.

To what stands round it :mod:`.surroundings` adds the field outside the window.

Doubt, each as a factor on C, added as logarithms in squares; that upwards and that downwards are not alike:

    κ        2.0, from 1.4 to 3.0
    enamel   permittivity 3.6, from 3.0 to 4.2 (docs/sources.md, 4.2)
    wire     its thickness over the insulation, by the standard's limits
    wax      between the turns, 2.2 in place of air: upwards only, where the case does not say whether it is potted

A winding that the case says is potted has wax or epoxy between its turns, with the permittivity and doubt of
:data:`POTTING` in place of the last line. On the sections laid turn by turn κ then rises by 5 to 11 % in wax and 7 to
18 % in epoxy, for turns that do not touch count for more: taken as 1.06 and 1.10. What soaks the bobbin and tape
round it stays within the doubt of :mod:`.surroundings`, whose upper end epoxy lifts to its own.

tan δ of the winding is that of the enamel, 0.02, times the share of the energy that lies in it, and that of epoxy
times the rest; air and wax lose nothing.

References
----------
κ and the sum over pairs: derived here. Layers: from W = ½ C (Va² + Va Vb + Vb²)/3, see Biela & Kolar, *IEEE Trans.
Ind. Appl.* 44(1) (2008) 223 (the formula from memory). Massarini & Kazimierczuk, *IEEE Trans. Power Electron.* 12
(1997) 671, have straight field lines between two wires in place of the cell.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType

import numpy as np

from stringflux.geometry.case.model import Case
from stringflux.geometry.case.wire import Wire
from stringflux.geometry.shapes.row import Racetrack
from stringflux.solver.capacitance.cell import Lattice, WireCell, wire_cell
from stringflux.solver.interpolation import gauss

from .packing import Packing, turn_length
from .surroundings import SURROUNDED, outside_capacitance

KAPPA = (1.4, 2.0, 3.0)
"""Least, nominal and greatest κ."""
ENAMEL = (3.0, 3.6, 4.2)
"""Permittivity of the insulation."""
WAX = 2.2
_LATTICES: tuple[Lattice, Lattice] = ("square", "hexagonal")
_SPREAD = 8  # Gauss points in every slice of a winding whose thickness changes
ENAMEL_LOSS = 0.02
"""tan δ of the insulation, as of polyurethane (docs/sources.md, 4.2, memory); plain enamel has 0.02 to 0.05."""


@dataclass(frozen=True, kw_only=True)
class Potting:
    """What fills a winding.

    Attributes
    ----------
    permittivity : (float, float, float)
        Least, nominal and greatest relative one.
    loss : float
        tan δ.
    kappa : float
        κ over that with air between the turns.
    """

    permittivity: tuple[float, float, float]
    loss: float
    kappa: float


POTTING: Mapping[str, Potting] = MappingProxyType({
    "wax": Potting(permittivity=(2.1, WAX, 3.0), loss=0.0, kappa=1.06),
    "epoxy": Potting(permittivity=(3.0, 3.6, 4.5), loss=0.01, kappa=1.10),
})
"""Paraffin 2.1 to 2.5 and beeswax up to 3.0, cast epoxy 3.6 (docs/sources.md, 4.2); the ends and tan δ of epoxy from
memory."""


@dataclass(frozen=True, kw_only=True)
class WindingCapacitance:
    """What a winding has between its terminals, computed.

    Attributes
    ----------
    nominal : float
        F.
    band : (float, float)
        Its honest range, F.
    turns, outside : float
        What of it lies between the turns of the scattered winding, and outside the winding, F.
    layered : (float, float)
        Between the turns if they were laid in square or in hexagonal layers, F.
    loss : float
        tan δ.
    """

    nominal: float
    band: tuple[float, float]
    turns: float
    outside: float
    layered: tuple[float, float]
    loss: float


def winding_capacitance(case: Case, wire: Wire, packings: Sequence[Packing], below: float = 0.0,
                        ) -> WindingCapacitance:
    """Capacitance of the winding of [coil] among all that the case has.

    Parameters
    ----------
    case : Case
    wire : Wire
        That of its coil.
    packings : sequence of Packing
        Scattered, layered square, layered hexagonal.
    below : float
        Voltage of its end nearer to ground, in its own whole voltage.
    """
    coil = case.racetrack()
    along = spread(coil, packings[0])
    pot = None if case.coil.potted is None else POTTING[case.coil.potted]
    filler = 1.0 if pot is None else pot.permittivity[1]
    square, hexagonal = (pair(wire.bare, wire.overall[1], filler, lattice) for lattice in _LATTICES)
    turns = KAPPA[1] * (1.0 if pot is None else pot.kappa) * square.pair * along
    thin, thick = (pair(wire.bare, d, filler).pair / square.pair for d in (wire.overall[0], wire.overall[2]))
    thinner, wax = (pair(wire.bare, wire.overall[1], e).pair / square.pair
                    for e in ((1.0, WAX) if pot is None else pot.permittivity[::2]))
    less, more = ((ENAMEL[i] / ENAMEL[1]) ** square.in_enamel for i in (0, 2))  # the share is the slope
    down, up = _together(KAPPA[0] / KAPPA[1], less, thick, thinner), _together(KAPPA[2] / KAPPA[1], more, thin, wax)
    air = outside_capacitance(case, below)
    low, nominal, high = (air * e for e in SURROUNDED)
    if pot is not None:
        high = max(high, air * pot.permittivity[2])
    return WindingCapacitance(
        nominal=turns + nominal, band=(turns / down + low, turns * up + high), turns=turns, outside=nominal,
        layered=(in_layers(packings[1], square.pair, 1, coil.turns),
                 in_layers(packings[2], hexagonal.pair, 2, coil.turns)),
        loss=(ENAMEL_LOSS * square.in_enamel + (pot.loss * (1 - square.in_enamel) if pot else 0.0))
        * turns / (turns + nominal),
    )


def spread(coil: Racetrack, packing: Packing) -> float:
    """h ℓ/b, and where the thickness changes along the height ∫ ℓ/b dz with the mean turn ℓ at each, m."""
    if not coil.builds:
        return (coil.top - coil.bottom) * packing.length / coil.turns / coil.build
    total = 0.0
    for z0, z1, w0, w1 in coil.slices:
        for part, weight in zip(*gauss(_SPREAD), strict=True):
            build = w0 + (w1 - w0) * float(part)
            total += (z1 - z0) * float(weight) * turn_length(coil, coil.inner_radius + build / 2) / build
    return total


def in_layers(packing: Packing, pair: float, neighbours: int, turns: float) -> float:
    """Capacitance between the turns of a layered winding, F.

    Parameters
    ----------
    packing : Packing
    pair : float
        g, F/m.
    neighbours : int
        Turns of the next layer that each touches.
    turns : float
    """
    n = turns / packing.turns_per_layer
    if n <= 1:  # turn to turn in one layer: each pair has U/N
        return pair * packing.length / turns**2
    return 4 * (n - 1) / (3 * n**2) * neighbours * packing.turns_per_layer * pair * packing.length / turns


@lru_cache(maxsize=64)  # a pure function of five numbers, which studies ask for again and again
def pair(bare: float, overall: float, between: float = 1.0, lattice: Lattice = "square") -> WireCell:
    """What two touching turns have."""
    return wire_cell(bare=bare, overall=overall, enamel=ENAMEL[1], between=between, lattice=lattice)


def _together(*factors: float) -> float:
    """Factors of independent causes as one, at least 1."""
    return float(np.exp(np.sqrt(np.sum(np.log(factors) ** 2))))
