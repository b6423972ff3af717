"""Results as a person holds them: records that draw themselves, `plot` a panel and `figures` what commands write."""

from __future__ import annotations

from typing import TYPE_CHECKING

from stringflux.geometry.late import late

if TYPE_CHECKING:
    from .aperture import StringAperture
    from .each import EachString
    from .field import Field
    from .linkage import Linkage
    from .material import MaterialCurve
    from .picture import FieldPicture
    from .prediction import Prediction
    from .signals import Signals
    from .verification import Verification

__all__ = [
    "EachString",
    "Field",
    "FieldPicture",
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
    "FieldPicture": ".picture",
    "Linkage": ".linkage",
    "MaterialCurve": ".material",
    "Prediction": ".prediction",
    "Signals": ".signals",
    "StringAperture": ".aperture",
    "Verification": ".verification",
}

__getattr__ = late(__name__, _HOME)
