"""One string over a solved case: over which length of it the coils listen; and the fields at points."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from stringflux.geometry.arrays import Array
from stringflux.geometry.errors import InputError
from stringflux.postprocess.results.aperture import StringAperture
from stringflux.postprocess.results.each import numbered
from stringflux.postprocess.results.field import Field
from stringflux.postprocess.string.aperture import aperture
from stringflux.postprocess.string.layers import layers_of
from stringflux.postprocess.string.linkage import rest_model

from ..solved.abstract import SolvedCase
from ..solved.solve_row import one_thread


def aperture_of(solved: SolvedCase, number: int) -> StringAperture:
    """The aperture of string `number` (from 1), all coils as they are connected."""
    shape = numbered(number, solved.strings).shape
    with one_thread():
        field = solved.among(solved.solution().field).over(number)
        model = rest_model(field, shape, layers_of(shape, solved.materials), solved.numerics.string)
        return StringAperture(number=number, weights=aperture(model))


def bias_at(solved: SolvedCase, points: npt.ArrayLike) -> Field:
    """B₀ at points (3, n) or (3,), m."""
    at = read_points(points)
    return Field(name="B", unit="T", points=at, values=solved.field_over(at).bias(at))


def reciprocal_at(solved: SolvedCase, points: npt.ArrayLike) -> Field:
    """b at points (3, n) or (3,), m."""
    at = read_points(points)
    return Field(name="b", unit="T/A", points=at, values=solved.field_over(at).reciprocal(at))


def read_points(points: npt.ArrayLike) -> Array:
    """x y z of points as (3, n)."""
    at = np.asarray(points, float)
    if at.ndim not in (1, 2) or at.shape[0] != 3 or not at.size or not np.all(np.isfinite(at)):
        raise InputError(f"points: received an array of shape {at.shape}; write x, y and z in m as (3,) or (3, n), "
                         "all finite")
    return at.reshape(3, -1)
