r"""A layer of a string whose metal remembers: core or wrap.

In the wire of a wrap the field is h, in the core too (g = 1, N = 0). With m the wire's magnetisation as it remembers
it (:class:`.StringMemory`), along the string::

    h = g H − N m,      M = g m
    g = (s² + (1 − s²) a)/q,   N = D (1 − s²) a²/q²,   q² = s² + (1 − s²) a²,   a = 1/(1 + D c)

s and D are those of :mod:`.wrap`, c the mean of m(h_k)/h_k over the shares of the metal: on one curve h = q H, and M
is that of :class:`.WrapLaw`. Across, the field in the metal is H_t/(1 + χ/2), χ = c in the core and
c (s² + (1 − s²) a) in the wrap; in its wire q times that.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.materials import StringSteel
from stringflux.solver.materials.string_memory import StringMemory

from .magnetisation import Layer
from .wrap import WrapLaw


@dataclass(frozen=True, kw_only=True, eq=False)
class Inside:
    """What is in the metal, from place to place (arrays (…)).

    Attributes
    ----------
    h : array
        Field in the wire, A/m.
    across : array
        Field across in it, A/m.
    a : array
        a of a wrap; 1 in a core.
    """

    h: Array
    across: Array
    a: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class Response:
    """How a layer answers at a field inside.

    Attributes
    ----------
    m, slope : arrays (…)
        Of the wire, A/m, and dm/dh.
    chi : array (…)
        Susceptibility across of the layer.
    gain, back : arrays (…)
        g and N.
    back_slope : array (…)
        d(N m)/dm.
    inside : Inside
        With the field across and a as they follow from this response.
    """

    m: Array
    slope: Array
    chi: Array
    gain: Array
    back: Array
    back_slope: Array
    inside: Inside

    def step(self, field: Array) -> Array:
        """Change of h (…) by one step of Newton's method at the field H (…) along the string."""
        missing = self.gain * field - self.inside.h - self.back * self.m
        return np.asarray(missing / (1 + self.back_slope * self.slope))

    @property
    def along(self) -> Array:
        """dM/dH (…)."""
        return np.asarray(self.gain**2 * self.slope / (1 + self.back_slope * self.slope))


@dataclass(frozen=True, kw_only=True, eq=False)
class HeldLayer:
    """A coaxial part of the string: its metal cross-section in m², its metal with memory, the gaps of a wrap."""

    area: float
    memory: StringMemory
    wrap: WrapLaw | None = None

    def at_rest(self, n: int) -> Inside:
        """No field, at n places."""
        return Inside(h=np.zeros(n), across=np.zeros(n), a=np.ones(n))

    def response(self, state: Array, inside: Inside, across: Array, near: float = 0.0) -> Response:
        """How the layer answers at a field inside that is reached from a state (cells + 1, …), the field across the
        string being `across` (…), A/m; `near` as in :meth:`.StringMemory.reached`."""
        m, slope, c = self.memory.reached(state, inside.h, inside.across, near)
        if self.wrap is None:
            inside = Inside(h=inside.h, across=across / (1 + c / 2), a=inside.a)
            one = np.ones_like(m)
            return Response(m=m, slope=slope, chi=c, gain=one, back=0 * one, back_slope=0 * one, inside=inside)
        s2 = self.wrap.slope2
        whole = np.hypot(m, c * inside.across)
        a, D, grows = self.wrap.between_turns(c, whole, inside.a)
        q2 = s2 + (1 - s2) * a**2
        ways = s2 + (1 - s2) * a
        share = (m / np.maximum(whole, 1e-9)) ** 2  # of D's growth by m, the field across held
        tilt = (1 - s2) * a**2 / q2
        chi = c * ways
        return Response(m=m, slope=slope, chi=chi, gain=ways / np.sqrt(q2), back=D * tilt,
                        back_slope=(D + (grows - D) * share) * tilt,
                        inside=Inside(h=inside.h, across=np.sqrt(q2) * across / (1 + chi / 2), a=a))


def held_layers(layers: tuple[Layer, ...]) -> tuple[HeldLayer, ...]:
    """The same layers with memory: free is as much of each metal as makes its reversible susceptibility."""
    out = []
    for layer in layers:
        wrap = layer.law if isinstance(layer.law, WrapLaw) else None
        steel = wrap.metal if wrap else layer.law
        if not isinstance(steel, StringSteel):
            raise TypeError("only a string steel remembers")
        free = steel.chi_reversible / steel.chi_initial if steel.chi_initial else 1.0
        memory = StringMemory(steel=steel, pinning=steel.pinning, free=free)
        out.append(HeldLayer(area=layer.area, memory=memory, wrap=wrap))
    return tuple(out)


def remembers(shape: StringShape, layers: tuple[Layer, ...]) -> bool:
    """Whether the string is to have its memory, and anything in its metal is held."""
    return shape.state != "curve" and any(
        layer.memory.pinning > 0.0 and layer.memory.free < 1.0 for layer in held_layers(layers))
