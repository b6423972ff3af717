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

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array
from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.materials import StringSteel
from stringflux.solver.materials.string_memory import MetalsTogether, StringMemory, metals_together

from .magnetisation import Layer
from .wrap import Turns, WrapLaw, turns_together

_ONE, _NONE = np.ones(()), np.zeros(())


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
    gain, back : arrays (…) or ()
        g and N.
    back_slope : array (…) or ()
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
    """A coaxial part of the string: its metal cross-section in m² (of several strings (b, 1)), its metal with memory,
    the gaps of a wrap."""

    area: float | Array
    memory: StringMemory | MetalsTogether
    wrap: Turns | None = None

    def at_rest(self, shape: tuple[int, ...]) -> Inside:
        """No field, at places of that shape."""
        return Inside(h=np.zeros(shape), across=np.zeros(shape), a=np.ones(shape))

    def first(self, n: int) -> HeldLayer:
        """The layer of the first n strings."""
        if isinstance(self.memory, StringMemory) or n == self.memory.strengths.shape[1]:
            return self
        return HeldLayer(area=np.asarray(self.area)[:n], memory=self.memory.first(n),
                         wrap=self.wrap and self.wrap.first(n))

    def response(self, state: Array, inside: Inside, across: Array, near: Array | float = 0.0) -> Response:
        """How the layer answers at a field inside that is reached from a state (cells + 1, …), the field across the
        string being `across` (…), A/m; `near` as in :meth:`.StringMemory.reached`."""
        m, slope, c = self.memory.reached(state, inside.h, inside.across, near)
        if self.wrap is None:
            inside = Inside(h=inside.h, across=across / (1 + c / 2), a=inside.a)
            return Response(m=m, slope=slope, chi=c, gain=_ONE, back=_NONE, back_slope=_NONE, inside=inside)
        s2 = self.wrap.slope2
        along = m * m
        square = along + np.square(c * inside.across) + 1e-18
        a, D, grows = self.wrap.between_turns(c, np.sqrt(square), inside.a)
        turned = (1 - s2) * a
        ways = s2 + turned
        turned = turned * a
        q2 = s2 + turned
        q = np.sqrt(q2)
        tilt = turned / q2
        chi = c * ways
        # the last factor: the part of m in D's growth, the field across held
        return Response(m=m, slope=slope, chi=chi, gain=ways / q, back=D * tilt,
                        back_slope=(D + (grows - D) * (along / square)) * tilt,
                        inside=Inside(h=inside.h, across=q * across / (1 + chi / 2), a=a))


def held_layers(layers: tuple[Layer, ...]) -> tuple[HeldLayer, ...]:
    """The same layers with memory."""
    out = []
    for layer in layers:
        wrap = layer.law if isinstance(layer.law, WrapLaw) else None
        steel = wrap.metal if wrap else layer.law
        if not isinstance(steel, StringSteel):
            raise TypeError("only a string steel remembers")
        out.append(HeldLayer(area=layer.area, memory=StringMemory.of(steel), wrap=wrap.turns if wrap else None))
    return tuple(out)


def kinds_of(layers: tuple[HeldLayer, ...]) -> tuple[object, ...]:
    """What strings have alike that :func:`held_together` can take as one."""
    return tuple((layer.wrap is None, layer.memory.steel.law, layer.memory.cells)
                 for layer in layers if isinstance(layer.memory, StringMemory))


def held_together(strings: Sequence[tuple[HeldLayer, ...]]) -> tuple[HeldLayer, ...] | None:
    """The layers of strings that have as many, each string's for its own row of places (b, n); None where their laws
    are no one law."""
    if all(layers is strings[0] for layers in strings):
        return strings[0]
    out = []
    for several in zip(*strings, strict=True):
        memory = metals_together([layer.memory for layer in several if isinstance(layer.memory, StringMemory)])
        if memory is None:
            return None
        turns = [layer.wrap for layer in several if layer.wrap is not None]
        out.append(HeldLayer(area=np.array([[layer.area] for layer in several]), memory=memory,
                             wrap=turns_together(turns) if turns else None))
    return tuple(out)


def remembers(shape: StringShape, layers: tuple[Layer, ...]) -> bool:
    """Whether the string is to have its memory, and anything in its metal is held."""
    return shape.state != "curve" and any(
        memory.pinning > 0.0 and memory.free < 1.0
        for memory in (layer.memory for layer in held_layers(layers)) if isinstance(memory, StringMemory))
