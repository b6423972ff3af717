r"""The bodies' answer to the coils over the band, their eddy currents in it, in 3-D.

Conducting magnetic bodies (steel, magnets) get a complex permeability each (:mod:`.effective_mu`): the flux that a
plate or a rod of its thickness lets through. Non-magnetic sheets (covers, base plates) carry their currents in
:mod:`.sheet`, which takes b from here.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from stringflux.geometry.arrays import Array, ComplexArray
from stringflux.geometry.shapes.bodies import SolidBody

from ..constants import MU0
from ..materials.kinds import BodyMaterial, Materials, body_material
from ..materials.signal import permeability
from ..solid.bias import SolidState, charges
from ..solid.linear import SolidSolver
from ..solid.small_signal import WithinBodies, excess, linked
from ..solid.space import SolidSpace, total
from .effective_mu import effective_mu, long_axis

_TOLERANCE = 1e-6  # of the load; moves L by 1e-7 and b by 5e-6 of themselves


@dataclass(frozen=True, kw_only=True, eq=False)
class SolidBand:
    """The bodies' answer at several frequencies.

    Attributes
    ----------
    frequency : array (f,)
        Hz.
    inductance : complex array (f, coils, coils)
        What the bodies add, H per turn²; L − jR/ω.
    charges : complex array (f, coils, unknowns)
        ∫ M·∇w per ampere in one turn, A·m.
    """

    frequency: Array
    inductance: ComplexArray
    charges: ComplexArray


def solve_band(space: SolidSpace, bodies: Sequence[SolidBody], materials: Materials, bias: SolidState,
               sources: Sequence[Array], frequency: Array,
               progress: Callable[[float], None] = lambda share: None) -> SolidBand:
    """Solve for every coil and frequency.

    Parameters
    ----------
    bodies : sequence of SolidBody
        Of the space.
    bias : SolidState
        Where steel is on its curve.
    sources : sequence of arrays (coils, 3, e, q)
        H_s of every coil at the points of every body, A/m per ampere.
    frequency : array (f,)
        Hz, above 0.
    """
    n, coils = space.unknowns, sources[0].shape[0]
    # each body by its mean: the formulas know one permeability
    own = [body_material(materials, b.material) for b in bodies]
    still = [np.mean(permeability(m, b.axis, s), axis=(2, 3)) if s.size else np.eye(3)
             for m, b, s in zip(own, bodies, bias.b, strict=True)]  # one beyond a plane of symmetry has no elements
    fade = [_fade(b, mu, m, frequency) for m, b, mu in zip(own, bodies, still, strict=True)]
    real = [np.broadcast_to(mu[:, :, None, None], (3, 3, *e.weight.shape))
            for mu, e in zip(still, space.bodies, strict=True)]
    parts = [MU0 * e.matrix(mu, n) for e, mu in zip(space.bodies, real, strict=True)]
    solver = SolidSolver(space, [MU0 * mu for mu in real])
    inside = WithinBodies(space, real)
    within = [inside([s[k] for s in sources])[0] for k in range(coils)]
    inductance = np.empty((frequency.size, coils, coils), complex)
    found = np.empty((frequency.size, coils, n), complex)
    solved: list[list[Array]] = [[] for _ in range(coils)]
    for done, i in enumerate(_ends_first(frequency.size)):
        mu = [(1.0 + 0.0j) * r * f[i] for r, f in zip(real, fade, strict=True)]
        matrix = total(space.air, *(f[i] * part for f, part in zip(fade, parts, strict=True)))
        m: list[list[Any]] = [[] for _ in bodies]
        for k in range(coils):
            load = sum(MU0 * e.load(excess(t, s[k]), n)
                       for e, t, s in zip(space.bodies, mu, sources, strict=True))
            phi = solver.solve_complex(matrix, np.asarray(load), _TOLERANCE, solved[k])
            solved[k].append(phi)
            for j, (e, t) in enumerate(zip(space.bodies, mu, strict=True)):
                m[j].append(excess(t, within[k][j] - e.field(phi)))
            found[i, k] = charges(space, [each[-1] for each in m])
        inductance[i] = linked(space, [np.stack(each) for each in m], sources)
        progress((done + 1) / frequency.size)
    return SolidBand(frequency=frequency, inductance=inductance, charges=found)


def _ends_first(count: int) -> list[int]:
    """0 … count − 1, both ends, then middles of what is left: later ones lie between solved ones."""
    out, gaps = [0, count - 1][:count], deque([(0, count - 1)])
    while gaps:
        low, high = gaps.popleft()
        if high - low > 1:
            middle = (low + high) // 2
            out.append(middle)
            gaps += [(low, middle), (middle, high)]
    return out


def _fade(body: SolidBody, mu: Array, material: BodyMaterial, frequency: Array) -> ComplexArray:
    """μ̃/μ (f,) of a body whose static permeability is the tensor `mu` (3, 3): that along the body makes its skin."""
    axis = long_axis(body.form)
    along = float(np.trace(mu)) / 3 if axis is None else float(mu[axis, axis])
    rho = material.resistivity
    return np.asarray(effective_mu(body.form, along, rho, frequency) / along, dtype=complex)
