r"""What a small signal meets in a magnet or a soft material at its bias, in the form that each solver reads.

Magnet, easy axis e, at every bias::

    μ/μ0 = μ_⊥ + (μ_rev − μ_⊥) e eᵀ

Soft: the reversible permeability μ_rev(|B|) of the bias, the same in every direction.

Along a pole's axis and across it (:func:`along_and_across`), in a section as :func:`reluctivity`, in space as
:func:`permeability`.

References
----------
Derived here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array

from ..constants import NU0
from .kinds import BodyMaterial, is_magnet, is_steel

Permeability: TypeAlias = float | Array
"""Relative; of a magnet one number, of soft parts as the bias was given."""

_STEP = 1e-5  # T: so small that 1e-9 of the slope is lost
_DIGITS = 2  # of a permeability that poles share


@dataclass(frozen=True, kw_only=True)
class AxisPermeability:
    """What one part of a pole answers a small signal with.

    Attributes
    ----------
    along, across : float or array
        Relative permeabilities along the pole's axis and across it; arrays (elements, quadrature points) of the part.
    """

    along: Permeability
    across: Permeability

    def mean(self) -> AxisPermeability:
        """The same as two numbers, each the mean over the points."""
        return AxisPermeability(along=float(np.mean(self.along)), across=float(np.mean(self.across)))


def along_and_across(material: BodyMaterial, modulus: npt.ArrayLike) -> AxisPermeability:
    """Relative permeabilities along the easy axis and across it at the bias |B| in T, any shape.

    Examples
    --------
    >>> from stringflux.solver.materials import ConstantPermeability, linear_magnet
    >>> along_and_across(linear_magnet(name="m", remanence=1.2, mu_recoil=4.0, mu_transverse=3.0), 0.5)
    AxisPermeability(along=4.0, across=3.0)
    """
    if is_magnet(material):
        return AxisPermeability(along=material.mu_signal, across=material.mu_transverse)
    mu = material.reversible(modulus)
    return AxisPermeability(along=mu, across=mu)


def of_parts(materials: Sequence[BodyMaterial], biases: Sequence[Array]) -> tuple[AxisPermeability, ...]:
    """Those of the parts of a pole at their biases B (2, …) in T."""
    return tuple(along_and_across(m, np.hypot(b[0], b[1])) for m, b in zip(materials, biases, strict=True))


def shared_along_and_across(material: BodyMaterial, mean: float) -> AxisPermeability:
    """The same as two numbers, of soft parts to two digits: poles whose bias differs less share their answer.

    Parameters
    ----------
    mean : float
        |B| of the whole part, T.
    """
    if is_magnet(material):
        return AxisPermeability(along=material.mu_signal, across=material.mu_transverse)
    mu = float(f"{float(material.reversible(mean)):.{_DIGITS}g}")
    return AxisPermeability(along=mu, across=mu)


def reluctivity(material: BodyMaterial, axis: tuple[float, float], b: Array) -> Array:
    """ν_xx, ν_xz, ν_zz (3, …) in m/H of a section at the bias b (2, …) in T; `axis` the easy one, (x, z)."""
    if is_magnet(material):
        (ex, ez), along, across = axis, NU0 / material.mu_signal, NU0 / material.mu_transverse
        tensor = np.array([ex * ex * along + ez * ez * across, ex * ez * (along - across),
                           ez * ez * along + ex * ex * across])
        return np.broadcast_to(tensor.reshape(3, *([1] * (b.ndim - 1))), (3, *b.shape[1:]))
    nu = NU0 / material.reversible(np.hypot(b[0], b[1]))
    return np.stack([nu, np.zeros_like(nu), nu])


def out_of_section(material: BodyMaterial, chi: Array) -> Array:
    """χ (…) along y of a section whose χ_xx, χ_xz, χ_zz are (3, …): a magnet's easy axis lies in the section."""
    if is_magnet(material):
        return np.full(chi.shape[1:], material.mu_transverse - 1.0)
    return np.asarray(chi[0])


def permeability(material: BodyMaterial, axis: Sequence[float], b: Array) -> Array:
    """μ/μ0 (3, 3, …) at the bias b (3, …) in T; `axis` (3,) the easy one."""
    shape = b.shape[1:]
    out = np.zeros((3, 3, *shape))
    if is_magnet(material):
        along, across = material.mu_signal, material.mu_transverse
        tensor = across * np.eye(3) + (along - across) * np.outer(axis, axis)
        out += tensor.reshape(3, 3, *(1,) * len(shape))
        return out
    mu = material.reversible(np.sqrt(np.sum(b * b, 0)))
    for i in range(3):
        out[i, i] = mu
    return out


def slope_with_bias(material: BodyMaterial, b: Array) -> Array | None:
    """∂μ_rev/∂B (k, …) in 1/T of a soft part at b (k, …) in T; None for what does not depend on B.

    By central differences of the curve: the kinds of curve give no second derivative.
    """
    if not is_steel(material):
        return None
    modulus = np.maximum(np.hypot.reduce(b, axis=0), 1e-9)
    slope = (material.reversible(modulus + _STEP) - material.reversible(np.abs(modulus - _STEP))) / (2 * _STEP)
    return np.asarray(slope * b / modulus)
