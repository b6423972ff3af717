"""The figures of a prediction, of a case and of a material. They are objects; who wants files saves them."""

from __future__ import annotations

from matplotlib.figure import Figure

from stringflux.geometry.case.model import Case
from stringflux.solver.materials import Material

from .drawings.build import build_figure
from .drawings.row import drawing_figure
from .figures.balance import balance_figure
from .figures.fields import fields_figure
from .figures.linkage import linkage_figure
from .figures.material import curve_figure
from .figures.section import section_figure
from .figures.slice import slice_figure
from .figures.style import house_style
from .records.prediction import Prediction


def figures(prediction: Prediction) -> dict[str, Figure]:
    """All figures of a prediction.

    Parameters
    ----------
    prediction : Prediction

    Returns
    -------
    dict of str to Figure
        "section", "fields", "linkage", "balance"; from the 3-D solver "slice" in place of "section". Without
        "linkage" and "slice" where the maps were not computed.
    """
    with house_style():
        made = {}
        if prediction.section is not None:
            made["section"] = section_figure(prediction)
        elif prediction.slice is not None:
            made["slice"] = slice_figure(prediction)
        made["fields"] = fields_figure(prediction)
        if all(s.map_linkage.size for s in prediction.strings):
            made["linkage"] = linkage_figure(prediction)
        made["balance"] = balance_figure(prediction)
    return made


def drawing(case: Case) -> Figure:
    """Sections and view from the strings, to scale with dimensions; nothing is solved."""
    with house_style():
        return drawing_figure(case) if case.is_plain_row else build_figure(case)


def material_figure(material: Material) -> Figure:
    """The curve of a magnet, a soft material or the metal of a string."""
    with house_style():
        return curve_figure(material)
