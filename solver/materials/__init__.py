"""Materials: magnets, soft steels, string wire, and the table that names them."""

from __future__ import annotations

from .lookup import Material, find_material, known_materials, material_from_definition, material_uses
from .magnet import MagnetCurve, linear_magnet, magnet_from_points
from .soft import ConstantPermeability, SoftCurve, soft_from_points
from .string_steel import StringSteel

__all__ = [
    "ConstantPermeability",
    "MagnetCurve",
    "Material",
    "SoftCurve",
    "StringSteel",
    "find_material",
    "known_materials",
    "linear_magnet",
    "magnet_from_points",
    "material_from_definition",
    "material_uses",
    "soft_from_points",
]
