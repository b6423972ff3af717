"""What a pickup is: case model, units, wire, tip profiles, shapes and meshes.

Names are handed on at first use: ``stringflux.geometry.errors`` alone loads neither pydantic nor pint.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from .errors import (
    CaseError,
    InputError,
    MissingLibraryError,
    OutputError,
    SolveError,
    StringfluxError,
)
from .shapes import PartShape, PlacedPole, PoleShape, Racetrack, StringShape

if TYPE_CHECKING:
    from .case import Case
    from .fields import near
    from .load import Load
    from .own_materials import (
        BHTable,
        ConstantPermeability,
        DemagnetisationCurve,
        LinearMagnet,
        OwnMaterial,
        OwnStringSteel,
    )
    from .reading import read_case
    from .schema import case_schema
    from .strings import DENSITIES
    from .wire import Wire, find_wire, most_turns

_HOMES = {
    "Case": "case",
    "case_schema": "schema",
    "near": "fields",
    "Load": "load",
    "BHTable": "own_materials",
    "ConstantPermeability": "own_materials",
    "DemagnetisationCurve": "own_materials",
    "LinearMagnet": "own_materials",
    "OwnMaterial": "own_materials",
    "OwnStringSteel": "own_materials",
    "read_case": "reading",
    "DENSITIES": "strings",
    "Wire": "wire",
    "find_wire": "wire",
    "most_turns": "wire",
}

__all__ = [
    "DENSITIES",
    "BHTable",
    "Case",
    "CaseError",
    "ConstantPermeability",
    "DemagnetisationCurve",
    "InputError",
    "LinearMagnet",
    "Load",
    "MissingLibraryError",
    "OutputError",
    "OwnMaterial",
    "OwnStringSteel",
    "PartShape",
    "PlacedPole",
    "PoleShape",
    "Racetrack",
    "SolveError",
    "StringShape",
    "StringfluxError",
    "Wire",
    "case_schema",
    "find_wire",
    "most_turns",
    "near",
    "read_case",
]


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f".{_HOMES[name]}", __name__), name)
