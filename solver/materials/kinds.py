"""What a material may be, and the one place that asks which kind it is.

    magnet          MagnetCurve            H(B) along its easy axis, with charge and history; μ_⊥ across it, with the
                                           range that it may have; recoil permeability for a signal
    soft            SoftCurve              ν(|B|²) in every direction; reversible permeability for a signal
                    ConstantPermeability   both of them 1/(μ0 μr) and μr
    string's metal  StringSteel            M(H) along the wire; reversible susceptibility

Poles, bars and bodies are magnets or soft. A string is of a string's metal, or of a constant permeability, which is
the straight law of one. What differs within a kind is a law that the material holds: the shape of a magnet's major
curve is a :class:`.demagnetisation.Demagnetisation`, that of a steel's curve a :class:`.soft.StaticLaw`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, TypeAlias

from stringflux.geometry.errors import CaseError

from .constant import ConstantPermeability
from .magnet import MagnetCurve
from .soft import SoftCurve
from .string_steel import StringSteel

if TYPE_CHECKING:
    from typing_extensions import TypeIs

Soft: TypeAlias = SoftCurve | ConstantPermeability
BodyMaterial: TypeAlias = MagnetCurve | Soft
"""Of a part of a pole, a bar, a body."""
StringMaterial: TypeAlias = StringSteel | ConstantPermeability
"""Of a string's core or wrap."""
Material: TypeAlias = MagnetCurve | SoftCurve | ConstantPermeability | StringSteel
Materials: TypeAlias = Mapping[str, Material]
"""By the names that parts, bodies and strings call them."""


def is_magnet(material: Material) -> TypeIs[MagnetCurve]:
    """Whether it is a permanent magnet; what a body is of and is none, is soft."""
    return isinstance(material, MagnetCurve)


def is_steel(material: Material) -> TypeIs[SoftCurve]:
    """Whether it is soft with a curve: its reversible permeability has a range and falls with the bias."""
    return isinstance(material, SoftCurve)


def is_string_metal(material: Material) -> TypeIs[StringSteel]:
    """Whether it is one of the metals that strings are drawn from."""
    return isinstance(material, StringSteel)


def body_material(materials: Materials, name: str) -> BodyMaterial:
    """The material of a pole's part, a bar or a body.

    Raises
    ------
    CaseError
        When it is a string's metal: of that only the law along a wire is known.
    """
    material = materials[name]
    if isinstance(material, StringSteel):
        raise CaseError(f"material: received {name!r} for a body, a metal of strings; name a magnet or what is soft")
    return material


def string_metal(materials: Materials, name: str) -> StringSteel:
    """The metal of a string's core or wrap; a constant permeability as the straight law that it is.

    Raises
    ------
    CaseError
        When it is a magnet or has the curve of a steel for bodies.
    """
    material = materials[name]
    if isinstance(material, ConstantPermeability):
        chi = material.mu_r - 1
        return StringSteel(name=material.name, saturation=math.inf, chi_initial=chi, chi_reversible=chi,
                           chi_reversible_range=(chi, chi), law="linear")
    if not isinstance(material, StringSteel):
        raise CaseError(f"material: received {name!r} for a string; name a metal of strings")
    return material
