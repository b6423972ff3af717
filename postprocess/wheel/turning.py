r"""The voltage of a wheel that turns steadily, from λ over the angle.

λ is even and periodic in the angle θ of the wheel, so with n teeth, and r turns of the wheel a second::

    λ(θ) = Σ a_m cos m n θ,   θ = 2π r t,   e = −dλ/dt = 2π r Σ m n a_m sin m n θ,   f = n r

a_m come from λ at equal steps of half a tooth; the last one, of the shortest wave that these steps know, is left out
of e. So the frequency goes with the speed, and e as well: its area over half a tooth is always the same Δλ.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from stringflux.geometry.arrays import Array


@dataclass(frozen=True, kw_only=True, eq=False)
class ToothLinkage:
    """λ of one gap over half a tooth.

    Attributes
    ----------
    gap : float
        m.
    teeth : int
        n.
    angles : array (k,)
        θ from a tooth over the face to a floor over it, in equal steps, rad.
    linkage : array (k,)
        λ, V s.
    """

    gap: float
    teeth: int
    angles: Array
    linkage: Array

    @property
    def coefficients(self) -> Array:
        """a_m, m = 0 … k − 1, V s, (k,)."""
        k = self.linkage.size - 1
        a = np.fft.rfft(np.concatenate([self.linkage, self.linkage[-2:0:-1]])).real / k
        a[[0, -1]] /= 2
        return np.asarray(a)

    @property
    def swing(self) -> float:
        """λ over a tooth less λ over a floor, V s."""
        return float(self.linkage[0] - self.linkage[-1])

    def at(self, theta: Array) -> Array:
        """λ at any angle, rad; same shape, V s."""
        m = np.arange(self.linkage.size)
        return np.asarray(np.cos(np.multiply.outer(theta, m * self.teeth)) @ self.coefficients)

    def slope(self, theta: Array) -> Array:
        """dλ/dθ at any angle, rad; same shape, V s/rad."""
        m = np.arange(self.linkage.size - 1)
        waves = np.sin(np.multiply.outer(theta, m * self.teeth))
        return np.asarray(-waves @ (m * self.teeth * self.coefficients[:-1]))

    def emf(self, time: Array, speed: float) -> Array:
        """e at times, s, of a wheel that turns `speed` times a second, V."""
        return -2 * np.pi * speed * self.slope(2 * np.pi * speed * time)

    @property
    def steepest(self) -> float:
        """Largest |dλ/dθ|, V s/rad."""
        return float(np.max(np.abs(self.slope(np.linspace(0.0, np.pi / self.teeth, 721)))))

    @property
    def second(self) -> float:
        """Second over first harmonic of e."""
        a = self.coefficients
        return abs(float(2 * a[2] / a[1]))


@dataclass(frozen=True, kw_only=True, eq=False)
class WheelSpeed:
    """What one speed gives.

    Attributes
    ----------
    speed : float
        Turns a second.
    frequency : float
        f, Hz.
    way : float
        Speed of the tooth tops, m/s.
    peak : float
        Largest |e|, V.
    skin : float
        Depth to which a field of that frequency enters the wheel's steel, m; infinite for what does not conduct.
    """

    speed: float
    frequency: float
    way: float
    peak: float
    skin: float


@dataclass(frozen=True, kw_only=True, eq=False)
class TurnedWheel:
    """What is found of a wheel that turns past a sensor.

    Attributes
    ----------
    title : str
    teeth : int
    turns : float
        N, positive.
    sense : int
        +1 for a coil wound counter-clockwise, seen from the wheel.
    north : int
        +1 where the north end points to the wheel.
    length : float
        Of everything along the wheel's axis, m.
    radius, pitch, tooth : float
        Over the teeth, from tooth to tooth, and the width of a tooth's top, m.
    alone : float
        λ without a wheel, V s.
    own : ToothLinkage
        Of the case's gap.
    gaps : tuple of ToothLinkage
        Of each gap compared, rising; those beside its own on a coarser mesh.
    speeds : tuple of WheelSpeed
        The first one is shown moving.
    ends : float
        What a face as wide and long as this one, evenly charged, makes at the tooth, as a share of an endless one.
    time : array (n,)
        Over three teeth at the first speed, s.
    angle : array (n,)
        rad.
    linkage, emf : arrays (n,)
        V s and V.
    """

    title: str
    teeth: int
    turns: float
    sense: int
    north: int
    length: float
    radius: float
    pitch: float
    tooth: float
    alone: float
    own: ToothLinkage
    gaps: tuple[ToothLinkage, ...]
    speeds: tuple[WheelSpeed, ...]
    ends: float
    time: Array
    angle: Array
    linkage: Array
    emf: Array

    @property
    def per_turn(self) -> Array:
        """Φ through one turn, Wb, (n,)."""
        return self.linkage / self.turns

    @property
    def faded(self) -> tuple[float, float]:
        """By what factor λ's first harmonic falls from the last gap but one to the last; and what the teeth's own
        wave does, ((R + g)/(R + g'))^n, which is exp(−2π (g' − g)/pitch) on a straight rack."""
        one, other = self.gaps[-2:]
        found = float(other.coefficients[1] / one.coefficients[1])
        return found, float(((self.radius + one.gap) / (self.radius + other.gap)) ** self.teeth)


def face_share(width: float, length: float, away: float) -> float:
    """Field of an evenly charged rectangle over its middle, over that of an endless strip of the same width.

    Parameters
    ----------
    width, length, away : float
        Sides and distance, m.

    Examples
    --------
    >>> round(face_share(2e-3, 10e-3, 1e-3), 3), round(face_share(2e-3, 1.0, 1e-3), 4)
    (0.976, 1.0)

    References
    ----------
    The solid angle of a rectangle from over its middle, 4 atan(w l/(2 z √(4 z² + w² + l²))). (memory)
    """
    diagonal = float(np.sqrt(width**2 + length**2 + 4 * away**2))
    return float(np.arctan(width * length / (2 * away * diagonal)) / np.arctan(width / (2 * away)))


def skin_depth(frequency: float, resistivity: float, mu: float) -> float:
    """√(ρ/(π f μ)), m, of a resistivity in Ω m and a relative permeability; infinite for what does not conduct."""
    return float(np.sqrt(resistivity / (np.pi * frequency * mu * 4e-7 * np.pi)))
