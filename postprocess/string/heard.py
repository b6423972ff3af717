r"""What a coil hears of a string that begins to swing: its slopes at rest, by the memory of its metal.

On one curve ∂λ/∂z is the slope of λ at rest. With memory it is that of a light swing, S of :mod:`.loop`, put in place
and shaken at each height anew, and the slope across goes with it in proportion::

    ∂λ/∂z → f ∂λ/∂z,   ∂λ/∂y → f ∂λ/∂y,   ∂²λ/∂z² → f ∂²λ/∂z² + ∂f/∂z ∂λ/∂z,      f(z) = S/|∂λ/∂z on the curve|

f falls with the gap, for the pinning counts for more in a weaker field: 0.94 at 2 mm, 0.71 at 6 mm over one rod. Its
derivative is that between rest and 0.1 mm above. λ itself is that of the curve, to which playing shakes the metal
down.

References
----------
Derived here.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.polynomial import Chebyshev

from stringflux.geometry.shapes.row import StringShape
from stringflux.solver.interpolation import chebyshev
from stringflux.solver.seam import StringField

from .held import remembers
from .linkage import STEP, Slopes, curve_slopes, level_model, rest_model, rest_slopes
from .loop import Steps, SwungString
from .magnetisation import Layer
from .model import StringModel
from .numerics import SHIPPED, StringNumerics
from .pull import Pull, pull_of
from .room import ABOVE, swing_model
from .together import swing_together

HEIGHTS = 5
"""At which f is computed where it is wanted over heights."""


def heard_slopes(field: StringField, shape: StringShape, layers: tuple[Layer, ...],
                 numerics: StringNumerics = SHIPPED) -> Slopes:
    """λ of a string at rest and its slopes for a light swing; ∂λ/∂y is left out.

    Raises
    ------
    SolveError
        Where its magnetisation does not settle.
    """
    model = heard_model(field, shape, layers, numerics)
    return swung(rest_slopes(model), field, shape, layers, numerics, model)


def heard_model(field: StringField, shape: StringShape, layers: tuple[Layer, ...],
                numerics: StringNumerics = SHIPPED) -> StringModel:
    """The string at rest, with its fields tabulated for what is heard of it: for swings too where it remembers."""
    return (swing_model if remembers(shape, layers) else level_model)(field, shape, layers, numerics)


def swing_slope(field: StringField, shape: StringShape, layers: tuple[Layer, ...], amplitude: float,
                numerics: StringNumerics = SHIPPED) -> float:
    """S of a swing up and down by an amplitude, m, or as far as there is room, V·s/m; 0 where it is not heard."""
    model = heard_model(field, shape, layers, numerics)
    slopes = rest_slopes(model)
    if not slopes.heard:
        return 0.0
    string = swung_string(slopes, field, shape, layers, numerics, model)
    return abs(slopes.z) if string is None else string.loop(min(amplitude, string.reach)).sensitivity


def swung(slopes: Slopes, field: StringField, shape: StringShape, layers: tuple[Layer, ...],
          numerics: StringNumerics = SHIPPED, model: StringModel | None = None) -> Slopes:
    """Slopes on the curve, and as a light swing hears them; `model`: what the slopes were taken from."""
    string = swung_string(slopes, field, shape, layers, numerics, model)
    return slopes if string is None else with_memory(slopes, string)


def swung_string(slopes: Slopes, field: StringField, shape: StringShape, layers: tuple[Layer, ...],
                 numerics: StringNumerics = SHIPPED, model: StringModel | None = None,
                 steps: Steps | None = None) -> SwungString | None:
    """The string ready to swing the way it is heard: up and down, or only across; None where nothing is heard or
    nothing remembers. `model`: what the slopes were taken from, if that is :func:`heard_model`."""
    heard = slopes.heard or slopes.heard_across
    if not (heard and remembers(shape, layers)):
        return None
    begin = None if model is None or not slopes.heard else slopes.rest.axial.h
    return SwungString(field, shape, layers, sideways=not slopes.heard, steps=steps, numerics=numerics, model=model,
                       begin=begin)


def with_memory(slopes: Slopes, string: SwungString) -> Slopes:
    """Slopes on the curve as a light swing of the string hears them."""
    if string.sideways:
        return slopes.times(string.light().sensitivity / abs(slopes.y), 0.0)
    above, model = string.above(), string.model
    if not above.swung:
        swing_together([string, above])
    (curve,) = np.abs(curve_slopes(model, np.array([model.shape.axis_height + ABOVE]), string.begin))
    f, f_above = string.light().sensitivity / abs(slopes.z), above.light().sensitivity / float(curve)
    return slopes.times(f, (f_above - f) / ABOVE)


def heard_pull(field: StringField, shape: StringShape, layers: tuple[Layer, ...],
               numerics: StringNumerics = SHIPPED, string: SwungString | None = None) -> Pull:
    """The pull on a string in a light swing, up and down for F and k_z and across for k_y; `string`: if it is there.

    Raises
    ------
    SolveError
    """
    curve = pull_of(rest_model(field, shape, layers, numerics))
    if not remembers(shape, layers) or curve.force_z == 0.0:
        return curve
    (force, up), (_, aside) = (
        (string if string is not None and string.sideways == sideways
         else SwungString(field, shape, layers, sideways=sideways, numerics=numerics)).pulled()
        for sideways in (False, True))
    return replace(curve, force_y=float(force[0]), force_z=float(force[1]), stiffness_y=aside, stiffness_z=up)


def factor_over_heights(field: StringField, shape: StringShape, layers: tuple[Layer, ...], low: float, high: float,
                        numerics: StringNumerics = SHIPPED) -> Chebyshev:
    """f of a string over the height of its axis, low … high over the top plate, m; 1 where nothing remembers."""
    if not remembers(shape, layers):
        return Chebyshev([1.0], domain=[low, high])
    string = SwungString(field, shape, layers, lower=max(shape.axis_height - low, 0.0) + 2 * STEP,
                         higher=max(high - shape.axis_height, 0.0) + 2 * STEP, numerics=numerics)
    z = chebyshev(low, high, HEIGHTS)
    curve = np.abs(curve_slopes(string.model, z))
    light = np.array([string.at(h - shape.axis_height).light().sensitivity for h in z])
    return Chebyshev.fit(z, light / curve, HEIGHTS - 1, domain=[low, high])
