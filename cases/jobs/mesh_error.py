"""What the meshes of draft and normal cost against fine, and what a prediction at draft says of it.

Measured on the shipped cases by ``python tests/run.py quality``: the largest over their strings, rounded up. The
rest of the error, which is fine's own, is in the README's table.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class MeshError:
    """Largest differences from fine, in %.

    Attributes
    ----------
    linkage, sensitivity, bias, inductance : float
        λ; S; B₀ at the string, its vector in parts of its modulus; L.
    """

    linkage: float
    sensitivity: float
    bias: float
    inductance: float


MESH_ERRORS = {
    ("row", "draft"): MeshError(linkage=0.3, sensitivity=0.4, bias=0.4, inductance=0.1),
    ("row", "normal"): MeshError(linkage=0.2, sensitivity=0.3, bias=0.3, inductance=0.1),
    ("solid", "draft"): MeshError(linkage=1.7, sensitivity=1.8, bias=1.6, inductance=0.6),
    ("solid", "normal"): MeshError(linkage=0.7, sensitivity=0.8, bias=0.7, inductance=0.2),
}
"""By solver and quality."""


def said_of_draft(solver: str, quality: str) -> tuple[str, ...]:
    """The note of a prediction at draft by the row or the 3-D solver; of others nothing."""
    found = MESH_ERRORS.get((solver, quality))
    if found is None or quality != "draft":
        return ()
    where = "rows" if solver == "row" else "builds"
    return (f"draft: against fine meshes, on the shipped {where}, linkage is up to {found.linkage} % off, S "
            f"{found.sensitivity} %, B₀ at the strings {found.bias} %, L {found.inductance} %.",)
