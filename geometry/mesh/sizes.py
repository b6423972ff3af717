"""Element sizes of a section, told to gmsh: the least of several wishes, and nothing of gmsh's own."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any


def use_sizes(gmsh: Any, wishes: Sequence[str]) -> None:
    """Mesh with the least of some sizes, each a formula of distance fields, "2.0e-04 + 0.3*F1", m."""
    total = wishes[0]
    for wish in wishes[1:]:
        total = f"min({total}, {wish})"
    field = gmsh.model.mesh.field
    size = field.add("MathEval")
    field.setString(size, "F", total)
    field.setAsBackgroundMesh(size)
    for option in ("MeshSizeFromPoints", "MeshSizeFromCurvature", "MeshSizeExtendFromBoundary"):
        gmsh.option.setNumber(f"Mesh.{option}", 0)
    gmsh.option.setNumber("Mesh.Algorithm", 6)
