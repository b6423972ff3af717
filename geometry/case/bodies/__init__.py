"""The bodies of a case besides the poles of a row: bars, plates, blades, screws, covers, spacers of any form.

A body stands on its `bottom` or hangs from its `top` over (x, y) = `centre`. x runs along the strings towards the
bridge, y across them, z up from the bobbin's top plate.
"""

from typing import Annotated, Any, TypeAlias

from pydantic import Field

from .kinds import (
    BoxBody,
    CoverBody,
    CylinderBody,
    FileBody,
    PlateBody,
    PrismBody,
    RevolvedBody,
    ScrewBody,
    WedgeBody,
)
from .table import DIRECTIONS, NON_MAGNETIC, BodyTable, Direction, Magnetised

Body: TypeAlias = Annotated[
    BoxBody | CylinderBody | CoverBody | PrismBody | RevolvedBody | WedgeBody | PlateBody | ScrewBody | FileBody,
    Field(discriminator="shape"),
]


def with_shapes(bodies: Any) -> Any:
    """Bodies as a file writes them; one with a `file` needs no `shape`."""
    if not isinstance(bodies, list | tuple):
        return bodies
    return [{**b, "shape": "file"} if isinstance(b, dict) and "file" in b and "shape" not in b else b for b in bodies]


__all__ = [
    "DIRECTIONS",
    "NON_MAGNETIC",
    "Body",
    "BodyTable",
    "BoxBody",
    "CoverBody",
    "CylinderBody",
    "Direction",
    "FileBody",
    "Magnetised",
    "PlateBody",
    "PrismBody",
    "RevolvedBody",
    "ScrewBody",
    "WedgeBody",
    "with_shapes",
]
