"""Slopes of a string's laws with the fields that act on it: what derivatives of its magnetisation are made of.

Axial, h² = H² + H_t,in² with H_t,in (1 + χ/2) = H_t: the field inside follows H, so it is differentiated too.
"""

from __future__ import annotations

import numpy as np

from stringflux.geometry.arrays import Array

from ..string.magnetisation import StringLaw, axial_law


def axial_slopes(law: StringLaw, h: Array, across: Array) -> tuple[Array, Array]:
    """∂M/∂H and ∂M/∂|H_t| of the axial law, with H_t,in (1 + χ/2) = H_t held."""
    inside = np.zeros_like(h)
    for _ in range(10):
        _, _, inside = axial_law(law, h, across, inside)
    modulus, chi, steep = _chi(law, h, inside)
    below = 1 + chi / 2 + inside**2 * steep / (2 * modulus)
    inside_h, inside_a = -inside * steep * h / (2 * modulus) / below, 1 / below
    return chi + h * steep * (h + inside * inside_h) / modulus, h * steep * inside * inside_a / modulus


def across_slopes(law: StringLaw, h: Array, across: Array) -> tuple[Array, Array, Array]:
    """f = M_t/H_t of :func:`.string.magnetisation.across_factor`, ∂f/∂H and ∂f/∂|H_t|: the same two contractions."""
    inside, by_h, by_a = np.zeros_like(h), np.zeros_like(h), np.zeros_like(h)
    for turn in range(3):
        modulus, chi, steep = _chi(law, h, inside)
        chi_h, chi_a = steep * (h + inside * by_h) / modulus, steep * inside * by_a / modulus
        if turn < 2:
            under = 1 + chi / 2
            inside = across / under
            by_h, by_a = -inside * chi_h / 2 / under, (1 - inside * chi_a / 2) / under
    under = 1 + chi / 2
    return chi / under, chi_h / under**2, chi_a / under**2


def _chi(law: StringLaw, h: Array, inside: Array) -> tuple[Array, Array, Array]:
    """Modulus, χ = m/modulus there and dχ/dmodulus."""
    root = np.sqrt(h * h + inside * inside)
    modulus = root + 1e-6
    m, slope = law.magnetisation(modulus)
    chi = m / modulus
    return np.maximum(root, 1e-12), chi, (slope - chi) / modulus
