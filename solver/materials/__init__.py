"""Materials: magnets, soft steels, string wire, and the table that names them."""

from __future__ import annotations

from .constant import ConstantPermeability
from .kinds import (
    BodyMaterial,
    Material,
    Materials,
    body_material,
    is_magnet,
    is_steel,
    is_string_metal,
    string_metal,
)
from .lookup import find_material, known_materials, material_from_definition, material_uses
from .magnet import MagnetCurve, linear_magnet, magnet_from_points
from .soft import SoftCurve, soft_from_points
from .string_steel import StringSteel
from .temperature import at_temperature

__all__ = [
    "BodyMaterial",
    "ConstantPermeability",
    "MagnetCurve",
    "Material",
    "Materials",
    "SoftCurve",
    "StringSteel",
    "at_temperature",
    "body_material",
    "find_material",
    "is_magnet",
    "is_steel",
    "is_string_metal",
    "known_materials",
    "linear_magnet",
    "magnet_from_points",
    "material_from_definition",
    "material_uses",
    "soft_from_points",
    "string_metal",
]
