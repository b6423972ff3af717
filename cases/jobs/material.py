"""Materials as a person asks for them: by name, or all that a case uses."""

from __future__ import annotations

from stringflux.postprocess.results.material import MaterialCurve, material_curve
from stringflux.solver.materials import find_material


def material(name: str) -> MaterialCurve:
    """A material of the table that `stringflux materials` lists.

    Raises
    ------
    CaseError
        There is none of that name; near ones are named.

    Examples
    --------
    >>> from stringflux.cases import material
    >>> magnet = material("alnico-5")
    >>> round(float(magnet.b[-1]), 2)
    1.28
    >>> magnet.plot().get_xlabel()
    'H (kA/m)'
    """
    return material_curve(find_material(name))
