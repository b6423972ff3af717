"""The metal of a string as coaxial layers, and the models of it that span its uncertainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.materials import Materials, StringSteel, string_metal
from stringflux.solver.materials.doubt import at_memory_end, at_reversible

from .magnetisation import Layer
from .wrap import metal_area, wrap_law

WRAP_GAPS = (0.0, 0.02)
"""Turn gaps between which a wrap's real one lies, as parts of the pitch: with more, strings would be lighter than
published unit weights by more than these scatter (tests/geometry/case/test_strings.py)."""


CHARGE_DEPTH = 0.1
"""How far below the crests of a magnetic wrap's turns the charge sits, in diameters of the wrap wire."""


def charge_radius(shape: StringShape, layers: tuple[Layer, ...]) -> float:
    """Radius of the tube that carries the charge of core and wrap, m.

    A wrap is good steel across, so the core's flux leaves through it too. Between its turns are grooves: the field
    outside is that of a smooth tube below the crests, 0.06 diameters for perfectly permeable wires side by side, 0.1
    for steel on its core (of strings resolved turn by turn, gaps 0.5–20 %, χ 40–300:
    tests/postprocess/string/test_wrap.py).
    """
    return shape.outer_radius - CHARGE_DEPTH * shape.wrap_diameter if len(layers) > 1 else shape.core_radius


def layers_of(shape: StringShape, materials: Materials, *, wrap_gap: float | None = None,
              reversible: float | None = None, memory_end: int | None = None) -> tuple[Layer, ...]:
    """Core and, for a wound string with a magnetic wrap, the wrap.

    Parameters
    ----------
    shape : StringShape
    materials : mapping
        String materials by name.
    wrap_gap : float, optional
        Turn gap to use in place of the shape's.
    reversible : float, optional
        Where in the steel's range of reversible susceptibility, 0 (least) … 1 (largest); nominal if left out.
    memory_end : int, optional
        With the memory that answers least (0) or most (1) to a small swing.
    """
    def metal(name: str) -> StringSteel:
        found = string_metal(materials, name)
        if memory_end is not None:
            found = at_memory_end(found, memory_end)
        elif reversible is not None:
            found = at_reversible(found, reversible)
        return found if shape.pinning == 1.0 else replace(found, pinning=shape.pinning * found.pinning)

    core = Layer(area=np.pi * shape.core_radius**2, law=metal(shape.steel))
    wrap = metal(shape.wrap) if shape.wrap else None
    if wrap is None or wrap.chi_initial < 0.01:
        return (core,)
    gap = shape.wrap_gap if wrap_gap is None else wrap_gap
    curvature = shape.wrap_diameter / (2 * shape.core_radius + shape.wrap_diameter)
    area = metal_area(shape.core_radius, shape.wrap_diameter, gap)
    return core, Layer(area=area, law=wrap_law(wrap, gap, curvature))
