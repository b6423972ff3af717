"""The coils of a 3-D build at their terminals: inductances over the band with eddy currents, and their connection.

    L(f) = L + [bodies with eddy currents − the same without] + sheets

L is the static matrix with every body's own permeability at its bias; for the eddy currents each body has one mean
permeability (:mod:`stringflux.solver.eddy.bodies`). Sheets that are not magnetic and bodies answer to one
another (:mod:`stringflux.solver.eddy.sheets_and_bodies`). At the strings likewise ::

    κ(f) = b_z(f)/b_z(0) = 1 + [b of the bodies with eddy currents − the same without + b of the sheets]/b_z(0)
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.case.model import Case
from stringflux.geometry.shapes.bodies import SolidBody
from stringflux.postprocess.coil.connection import CoilNetwork, coil_network
from stringflux.solver.coil import air as coil_air
from stringflux.solver.constants import MU0
from stringflux.solver.eddy.bodies import solve_band
from stringflux.solver.eddy.numerics import SHIPPED, EddyNumerics
from stringflux.solver.eddy.sheet import Sheet
from stringflux.solver.eddy.sheet_mesh import sheet_mesh
from stringflux.solver.eddy.sheets_and_bodies import solve_sheet_band
from stringflux.solver.materials import Materials
from stringflux.solver.solid.charges import unfolded
from stringflux.solver.solid.halves import magnetic
from stringflux.solver.solid.solve import SolvedSolid

from .windings import coil_windings

_STILL = 1e-3  # Hz: so slow that nothing flows


def build_network(case: Case, solved: SolvedSolid, materials: Materials, frequency: Array,
                  progress: Callable[[float], None] = lambda share: None,
                  numerics: EddyNumerics = SHIPPED, temperature: float | None = None) -> CoilNetwork:
    """The coils of a solved build over frequencies (f,), Hz, connected; copper as of :func:`connected_coils`."""
    found = build_inductance(case, solved, materials, frequency, progress, numerics)
    return connected_coils(case, found, frequency, temperature)


def connected_coils(case: Case, per_turn: Array | ComplexArray, frequency: Array,
                    temperature: float | None = None) -> CoilNetwork:
    """The coils of a case as they are wound and connected, of the inductances of one turn each.

    Parameters
    ----------
    per_turn : array (f, coils, coils) or (coils, coils)
        L − jR_e/ω, H.
    frequency : array (f,)
        Hz.
    temperature : float, optional
        Of the copper, °C; that of the case when not given.
    """
    made = coil_windings(case, temperature)
    turns = np.array([c.turns * c.sense for c in case.racetracks()])
    return coil_network(how=case.connection.coils, names=case.coil_names(), turned=case.connection.reversed,
                        frequency=frequency, inductance=per_turn * np.outer(turns, turns),
                        resistance=[w.resistance for w in made], capacitance=[w.capacitance for w in made],
                        loss=[w.loss for w in made], lead=case.lead.farads)


@dataclass(frozen=True, kw_only=True, eq=False)
class BuildBand:
    """A build over frequencies, one turn a coil.

    Attributes
    ----------
    frequency : array (f,)
        Hz.
    inductance : complex array (f, coils, coils)
        L − jR_e/ω, H.
    attenuation : complex array (coils, n, f)
        κ of every coil at each of its points.
    """

    frequency: Array
    inductance: ComplexArray
    attenuation: ComplexArray


def build_inductance(case: Case, solved: SolvedSolid, materials: Materials, frequency: Array,
                     progress: Callable[[float], None] = lambda share: None,
                     numerics: EddyNumerics = SHIPPED) -> ComplexArray:
    """L − jR_e/ω of one turn each, H: complex (f, coils, coils)."""
    nowhere = np.zeros((len(solved.coils), 3, 0))
    return build_band(case, solved, materials, frequency, nowhere, progress, numerics).inductance


def build_band(case: Case, solved: SolvedSolid, materials: Materials, frequency: Array, points: Array,
               progress: Callable[[float], None] = lambda share: None,
               numerics: EddyNumerics = SHIPPED) -> BuildBand:
    """Inductances, and the coils' fields at points.

    Parameters
    ----------
    frequency : array (f,)
        Hz, rising.
    points : array (coils, 3, n)
        Where b of every coil is wanted, m.
    numerics : EddyNumerics
    """
    sources = [np.stack([coil_air.field(c, e.points) / MU0 for c in solved.coils]) for e in solved.space.bodies]
    every = np.concatenate([[_STILL], frequency])
    sheet = _sheet(conducting_sheets(case, solved, materials), materials)
    if sheet is None:
        band = solve_band(solved.space, solved.bodies, materials, solved.bias, sources, every, progress)
    else:
        static = replace(solved.field.charges, values=solved.field.charges.values[1:])
        band, currents = solve_sheet_band(solved.space, solved.bodies, materials, solved.bias, solved.coils, sources,
                                          static, sheet, every, progress, numerics)
    inductance = solved.matrix + band.inductance[1:] - band.inductance[0].real
    kappa = np.ones((len(solved.coils), points.shape[2], frequency.size), dtype=complex)
    for k, at in enumerate(points if points.shape[2] else ()):
        own = np.eye(len(solved.coils))[k]
        b = np.stack([_of_bodies(solved, values[k], at) for values in band.charges])
        more = b[1:] - b[0].real
        if sheet is not None:
            more = more + sheet.field(at, currents[1:, k])[:, 2]
        kappa[k] += more.T / solved.field.connected(own).reciprocal(at)[2][:, None]
    return BuildBand(frequency=frequency, inductance=inductance, attenuation=kappa)


def _of_bodies(solved: SolvedSolid, values: ComplexArray, points: Array) -> ComplexArray:
    """b_z (n,) of the bodies' charges for one coil and frequency, T/A per turn."""
    return np.asarray(MU0 * unfolded(solved.space, values[None], ((),)).field(points)[0, 2], dtype=complex)


def conducting_sheets(case: Case, solved: SolvedSolid, materials: Materials) -> tuple[SolidBody, ...]:
    """Bodies that conduct and are not magnetic."""
    own = {b.name for b in magnetic(case.solid_bodies(), materials)}
    return tuple(b for b in case.solid_bodies()
                 if b.name not in own and np.isfinite(materials[b.material].resistivity))


def _sheet(bodies: tuple[SolidBody, ...], materials: Materials) -> Sheet | None:
    if not bodies:
        return None
    return Sheet(mesh=sheet_mesh([b.form for b in bodies]),
                 conductivity=[1.0 / materials[b.material].resistivity for b in bodies],
                 thickness=[b.form.thickness for b in bodies])
