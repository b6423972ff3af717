r"""The modes of a stiff, damped string and its free vibration after a pluck.

Pinned at both ends, f₁ tuned to the string's pitch (Fletcher)::

    f_n = n f₀ √(1 + B n²),   B = π³ E d⁴/(64 T L²),   φ_n(s) = sin(nπ s/L)

E: Young's modulus, Pa; d: diameter of the solid wire or the core, m; T: tension, N; L: sounding length, m;
s: distance from the bridge, m. A force F at s₀, let go at t = 0, leaves in every mode (modal mass ½ μ L)::

    q_n(t) = a_n e^{−σ_n t} cos 2πf_n t,     a_n = 2 F φ_n(s₀) / (μ L (2π f_n)²)

Decay, σ_n = 1/τ₀ + (f_n/1 kHz)²/τ₁: losses that all partials share and air and internal friction that grow with
frequency (the form is common in the literature on struck strings; both times are inputs, the defaults a guess of
ours for a steel string). Springs k at the pickup (the pull of the magnets) move every f_n by ½ k φ_n²/K_n.

References
----------
Stiff string: H. Fletcher, "Normal vibration frequencies of a stiff piano string", *J. Acoust. Soc. Am.* 36 (1964)
203. The pluck and the springs: derived here.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from stringflux.geometry.arrays import Array

YOUNG = 207e9
"""Young's modulus of string steel, Pa (handbook value)."""
HIGHEST = 20e3
"""Partials above this are left out, Hz."""


@dataclass(frozen=True, kw_only=True)
class Damping:
    """Decay times.

    Attributes
    ----------
    all_partials : float
        τ₀, after which losses alike for all partials leave 1/e, s.
    at_1_khz : float
        τ₁, the same for the losses that grow as f², at 1 kHz, s.
    """

    all_partials: float = 2.0
    at_1_khz: float = 2.5

    def rates(self, frequency: Array) -> Array:
        """σ (n,), 1/s."""
        return np.asarray(1 / self.all_partials + (frequency / 1e3) ** 2 / self.at_1_khz)


@dataclass(frozen=True, kw_only=True)
class VibratingString:
    """A string as a vibrating body.

    Attributes
    ----------
    pitch : float
        Of the fundamental, Hz.
    unit_mass, length : float
        kg/m and m.
    diameter : float
        Of the solid wire or the core, which is what resists bending, m.
    youngs_modulus : float
        Pa.
    damping : Damping
    """

    pitch: float
    unit_mass: float
    length: float
    diameter: float
    youngs_modulus: float = YOUNG
    damping: Damping = field(default_factory=Damping)

    @property
    def tension(self) -> float:
        """T = μ (2 L f)², N."""
        return self.unit_mass * (2 * self.length * self.pitch) ** 2

    @property
    def inharmonicity(self) -> float:
        """B.

        Examples
        --------
        A plain ∅ 0.43 mm string at 196 Hz, 648 mm:

        >>> s = VibratingString(pitch=196.0, unit_mass=1.143e-3, length=0.648, diameter=0.43e-3)
        >>> round(s.inharmonicity * 1e4, 2)
        1.11
        """
        return float(np.pi**3 * self.youngs_modulus * self.diameter**4 / (64 * self.tension * self.length**2))

    def frequencies(self) -> Array:
        """f_n (n,) up to 20 kHz, the first being the pitch, Hz."""
        B = self.inharmonicity
        n = np.arange(1, int(HIGHEST / self.pitch) + 1)
        f = n * self.pitch * np.sqrt((1 + B * n * n) / (1 + B))
        return np.asarray(f[f <= HIGHEST])

    def shapes(self, s: Array, count: int) -> Array:
        """φ_n (count, len(s)) at distances s from the bridge; 0 beyond the ends."""
        s = np.asarray(s, dtype=float)
        inside = (s >= 0) & (s <= self.length)
        n = np.arange(1, count + 1)[:, None]
        return np.where(inside, np.sin(n * np.pi * s / self.length), 0.0)


@dataclass(frozen=True, kw_only=True)
class Pluck:
    """How a string is set going.

    Attributes
    ----------
    displacement, force : float or None
        At the place of plucking, m or N; exactly one.
    at : float
        Place, as a part of the sounding length from the bridge.
    angle : float
        Direction, rad: 0 across the strings, π/2 away from the pickup.
    """

    displacement: float | None = None
    force: float | None = None
    at: float = 1 / 8
    angle: float = np.pi / 4

    def __post_init__(self) -> None:
        if (self.displacement is None) == (self.force is None):
            raise ValueError("a pluck has a displacement or a force, one of them")


PLUCK = Pluck(displacement=1e-3)
"""A string drawn 1 mm aside and let go: what all strings are plucked with when nothing else is said."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FreeVibration:
    """What rings after a pluck.

    Attributes
    ----------
    amplitude : array (n,)
        a_n of the displacement along the pluck's direction, m.
    frequency_y, frequency_z, rate : arrays (n,)
        f_n of the two polarisations, Hz, and σ_n, 1/s.
    direction : (float, float)
        Shares across and up.
    """

    amplitude: Array
    frequency_y: Array
    frequency_z: Array
    rate: Array
    direction: tuple[float, float]


def plucked(string: VibratingString, pluck: Pluck, *, springs: tuple[float, float] = (0.0, 0.0),
            spring_at: float = 0.0) -> FreeVibration:
    """Set a string going.

    Parameters
    ----------
    springs : (float, float)
        k_y and k_z of the magnets' pull, N/m.
    spring_at : float
        Where they act, from the bridge, m.

    Returns
    -------
    FreeVibration
        Of all modes up to 20 kHz; a displacement is met by them together at the place of plucking.
    """
    f = string.frequencies()
    count = len(f)
    at = string.shapes(np.array([pluck.at * string.length]), count)[:, 0]
    per_newton = 2 * at / (string.unit_mass * string.length * (2 * np.pi * f) ** 2)
    force = pluck.force if pluck.force is not None else (pluck.displacement or 0.0) / float(per_newton @ at)
    over = string.shapes(np.array([spring_at]), count)[:, 0] ** 2
    modal = 0.5 * string.unit_mass * string.length * (2 * np.pi * f) ** 2
    fy, fz = (f * (1 + 0.5 * k * over / modal) for k in springs)
    return FreeVibration(
        amplitude=force * per_newton, frequency_y=fy, frequency_z=fz, rate=string.damping.rates(f),
        direction=(float(np.cos(pluck.angle)), float(np.sin(pluck.angle))),
    )


def ringing(amplitude: Array, frequency: Array, rate: Array, samples: int, sample_rate: float) -> tuple[Array, Array]:
    """u(t) = Σ a_n e^{−σ_n t} cos 2πf_n t and its velocity at t = i/sample_rate, (samples,) each.

    e^{s(T + τ)} = e^{sT} e^{sτ}: the time axis as a table of blocks T by steps τ makes the sum a product of two
    small matrices, some fifty times faster than as many exponentials.
    """
    step = int(np.ceil(np.sqrt(samples)))
    s = -rate + 2j * np.pi * frequency
    blocks = np.exp(np.multiply.outer(np.arange(-(-samples // step)) * (step / sample_rate), s))
    within = np.exp(np.multiply.outer(s, np.arange(step) / sample_rate))
    # velocity of a string let go at rest: without damping it is −ω sin ωt; the little that damping adds is kept
    u = np.real((blocks * amplitude) @ within).ravel()[:samples]
    v = np.real((blocks * (amplitude * s)) @ within).ravel()[:samples]
    return u, v
