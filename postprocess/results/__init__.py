"""Results as a person holds them: records that draw themselves, `plot` a panel and `figures` what commands write."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .aperture import StringAperture
    from .each import EachString
    from .field import Field
    from .linkage import Linkage
    from .material import MaterialCurve
    from .prediction import Prediction
    from .signals import Signals
    from .verification import Verification

__all__ = [
    "EachString",
    "Field",
    "Linkage",
    "MaterialCurve",
    "Prediction",
    "Signals",
    "StringAperture",
    "Verification",
]

_HOME = {
    "EachString": ".each",
    "Field": ".field",
    "Linkage": ".linkage",
    "MaterialCurve": ".material",
    "Prediction": ".prediction",
    "Signals": ".signals",
    "StringAperture": ".aperture",
    "Verification": ".verification",
}


def __getattr__(name: str) -> Any:
    if name in _HOME:  # late: whoever needs one name does not pay for the others
        return getattr(import_module(_HOME[name], __name__), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
