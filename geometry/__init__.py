"""What a pickup is: case model, units, wire, tip profiles, shapes and meshes.

Names are handed on at first use: ``stringflux.geometry.errors`` alone loads neither pydantic nor pint.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from .errors import CaseError, InputError, MissingLibraryError, OutputError, SolveError, StringfluxError
from .shapes.row import PartShape, PlacedPole, PoleShape, Racetrack, StringShape

if TYPE_CHECKING:
    from .case.controls import Load
    from .case.keys import near
    from .case.materials import (
        BHTable,
        ConstantPermeability,
        DemagnetisationCurve,
        LinearMagnet,
        OwnMaterial,
        OwnStringSteel,
        StringTable,
    )
    from .case.model import Case
    from .case.strings import DENSITIES
    from .case.wire import Wire, find_wire, most_turns
    from .reading.read import read_case
    from .reading.schema import case_schema

_HOMES = {
    "Case": "case.model",
    "case_schema": "reading.schema",
    "near": "case.keys",
    "Load": "case.controls",
    "BHTable": "case.materials",
    "ConstantPermeability": "case.materials",
    "DemagnetisationCurve": "case.materials",
    "LinearMagnet": "case.materials",
    "OwnMaterial": "case.materials",
    "OwnStringSteel": "case.materials",
    "StringTable": "case.materials",
    "read_case": "reading.read",
    "DENSITIES": "case.strings",
    "Wire": "case.wire",
    "find_wire": "case.wire",
    "most_turns": "case.wire",
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
    "StringTable",
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
