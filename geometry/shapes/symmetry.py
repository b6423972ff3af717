"""Which planes a build is symmetric about.

With H = −∇φ, a mirror image in x = 0 keeps φ even if magnetisations map as (m_x, m_y, m_z) → (−m_x, m_y, m_z),
and makes it odd with the opposite sign; likewise with y. What is no magnet fits both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .bodies import Box, Cover, Cylinder, Form, Point, Revolved, SolidBody

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
        if all(any(_same(_image(b, axis, parity), other) for other in bodies) for b in bodies):
            return parity
    return 0


def _image(body: SolidBody, axis: int, parity: int) -> SolidBody:
    """Its image in the plane, magnetised so that φ has this parity."""
    m = body.magnetisation
    if m is not None:
        x, y, z = _flip(m, axis)
        m = (parity * x, parity * y, parity * z)
    return replace(body, form=_image_form(body.form, axis), magnetisation=m)


def _flip(p: Point, axis: int) -> Point:
    return (-p[0], p[1], p[2]) if axis == 0 else (p[0], -p[1], p[2])


def _image_form(form: Form, axis: int) -> Form:
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


def _same(a: SolidBody, b: SolidBody) -> bool:
    if (a.material, a.polarity, a.state) != (b.material, b.polarity, b.state):
        return False
    return _near(a.axis, b.axis) and _near(a.form.bounds, b.form.bounds) and _same_form(a.form, b.form)


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
