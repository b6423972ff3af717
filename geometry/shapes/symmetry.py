"""Which planes a build is symmetric about.

With H = −∇φ, a mirror image in x = 0 keeps φ even if magnetisations map as (m_x, m_y, m_z) → (−m_x, m_y, m_z),
and makes it odd with the opposite sign; likewise with y. What is no magnet fits both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..arrays import Array
from .bodies import Box, Cover, Cylinder, Form, Plain, Point, Revolved, SolidBody
from .loops import middle, sides
from .pieces import FormPiece, FromFile, Hull, Shaped, Turned
from .placement import Placement

_SAME = 1e-9  # m, and of directions


@dataclass(frozen=True, kw_only=True)
class Symmetry:
    """The planes that halve a build, so that only x ≥ 0, only y ≥ 0, or a quarter of it needs a mesh.

    Attributes
    ----------
    x, y : bool
        Whether x = 0 and y = 0 do.

    Examples
    --------
    >>> quarter = Symmetry(x=True, y=True)
    >>> quarter.axes, quarter.copies
    ((0, 1), 4)
    """

    x: bool = False
    y: bool = False

    @property
    def axes(self) -> tuple[int, ...]:
        """Normals of the planes: 0 of x = 0, 1 of y = 0."""
        return tuple(axis for axis, there in enumerate((self.x, self.y)) if there)

    @property
    def copies(self) -> int:
        """How many times the meshed piece makes up the whole."""
        return int(2 ** len(self.axes))


WHOLE = Symmetry()
"""No plane: all is meshed."""


def mirror_parity(bodies: Sequence[SolidBody], axis: int) -> int:
    """Whether bodies are their own mirror image, and how the potential of their magnets goes.

    Parameters
    ----------
    bodies : sequence of SolidBody
    axis : {0, 1}
        0: image in the plane x = 0; 1: in y = 0.

    Returns
    -------
    int
        1: φ is even, or there is no magnet; −1: odd; 0: the bodies are not their own image.

    Examples
    --------
    >>> from stringflux.geometry.shapes.bodies import Box, SolidBody
    >>> bar = SolidBody(name="bar", material="alnico-5", form=Box(low=(-2e-3, 0, 0), high=(2e-3, 60e-3, 12e-3)),
    ...                 magnetisation=(1, 0, 0))
    >>> mirror_parity([bar], 0), mirror_parity([bar], 1)
    (-1, 0)
    """
    for parity in (1, -1):
        if all(any(_same(b, other, axis, parity) for other in bodies) for b in bodies):
            return parity
    return 0


def _flip(p: Point, axis: int) -> Point:
    return (-p[0], p[1], p[2]) if axis == 0 else (p[0], -p[1], p[2])


def _image_form(form: Plain, axis: int) -> Plain:
    if isinstance(form, Revolved):
        x, y, _ = _flip((form.x, form.y, 0.0), axis)
        return replace(form, x=x, y=y)
    if isinstance(form, Cylinder):
        x, y, z = _flip(form.base, axis)
        if axis == form.along:  # its lower end is the image of the upper one
            x, y = (x - form.length, y) if axis == 0 else (x, y - form.length)
        return replace(form, base=(x, y, z))
    a, b = _flip(form.low, axis), _flip(form.high, axis)
    low, high = (min(a[0], b[0]), min(a[1], b[1]), a[2]), (max(a[0], b[0]), max(a[1], b[1]), b[2])
    return replace(form, low=low, high=high)


def _same(body: SolidBody, other: SolidBody, axis: int, parity: int) -> bool:
    """Whether the other is the image in the plane, magnetised so that φ has this parity."""
    if (body.material, body.polarity, body.state) != (other.material, other.polarity, other.state):
        return False
    m = body.axis
    if body.magnetisation is not None:
        x, y, z = _flip(m, axis)
        m = (parity * x, parity * y, parity * z)
    if not _near(m, other.axis):
        return False
    if isinstance(body.form, Shaped):
        return isinstance(other.form, Shaped) and _mirrors(body.form, other.form, axis)
    if isinstance(other.form, Shaped):
        return False
    image = _image_form(body.form, axis)
    return _near(image.bounds, other.form.bounds) and _same_form(image, other.form)


def _mirrors(a: Shaped, b: Shaped, axis: int) -> bool:
    """Whether the pieces of one are the images of the pieces of the other, by their marks; what a file holds has
    none, and is no image of anything."""
    for own, others in ((a.joined, b.joined), (a.cut, b.cut)):
        images = [_sorted(_marks(p) * np.where(np.arange(4) == axis, -1.0, 1.0)) for p in own]
        there = [_sorted(_marks(p)) for p in others]
        kinds = [type(p.shape) for p in own], [type(p.shape) for p in others]
        if len(images) != len(there) or not all(
                any(k is n and p.size > 0 and p.shape == q.shape and _near(p, q)
                    for n, q in zip(kinds[1], there, strict=True)) for k, p in zip(kinds[0], images, strict=True)):
            return False
    return True


def _marks(piece: FormPiece) -> Array:
    """Points (n, 4) that tell a piece from all others of its kind: corners and middles of its edges, m, and the
    radius of the circle that each stands for, 0 of a point. Nothing for what only a file knows."""
    shape = piece.shape
    if isinstance(shape, Hull):
        return np.column_stack([_at(piece.placement, np.array(shape.points)), np.zeros(len(shape.points))])
    if isinstance(shape, FromFile):
        return np.zeros((0, 4))
    loops = (shape.outline,) if isinstance(shape, Turned) else (shape.outline, *shape.holes)
    rim = np.array([p for loop in loops for a, b in sides(loop) for p in ((a[0], a[1]), middle(a, b))])
    if isinstance(shape, Turned):
        return np.column_stack([_at(piece.placement, np.column_stack([0 * rim, rim[:, 1]])), rim[:, 0]])
    ends = [_at(piece.placement, np.column_stack([rim, np.full(len(rim), w)])) for w in (0.0, shape.length)]
    return np.column_stack([np.concatenate(ends), np.zeros(2 * len(rim))])


def _at(placement: Placement, points: Array) -> Array:
    return np.asarray(points @ np.array(placement.rows).T + np.array(placement.shift))


def _sorted(points: Array) -> Array:
    """Rows in an order of their own, whichever they came in."""
    p = np.round(points, 10) + 0.0
    return np.asarray(p[np.lexsort(p.T)])


def _same_form(a: Form, b: Form) -> bool:
    """Of forms with the same bounds."""
    if isinstance(a, Revolved) and isinstance(b, Revolved):
        return len(a.outline) == len(b.outline) and _near(a.outline, b.outline)
    if isinstance(a, Cover) and isinstance(b, Cover):
        return _near(a.wall, b.wall)
    if isinstance(a, Cylinder) and isinstance(b, Cylinder):
        return a.along == b.along
    return isinstance(a, Box) and isinstance(b, Box)


def _near(a: object, b: object) -> bool:
    return bool(np.allclose(np.asarray(a, dtype=float), np.asarray(b, dtype=float), rtol=0, atol=_SAME))
