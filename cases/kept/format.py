"""Kept results as bytes: records, numbers and arrays, and nothing that could run.

A payload is the length of a JSON text (8 bytes), the text, and behind it the arrays one after the other as they lie
in memory. The text is the value as a tree:

    null, true, 1, 0.5, "a"   themselves; floats come back to the last digit
    ["t", …]  ["l", …]        a tuple, a list
    ["d", [key, value], …]    a dict
    ["b", begin, length]      bytes
    ["a", type, shape, order, begin]   an array of numbers;  ["n", type, shape, order, begin]  a number of numpy's
    ["c", name, …]            a record of :data:`RECORDS`, its fields in their order
    ["r", n]                  the n-th array or record of the tree once more: what was one object stays one

A record is made without its constructor, its fields set; the only thing ever called is the constructor of scipy's
spline, with arrays. So a file of somebody else's can give wrong numbers, and no more than that.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import fields
from functools import cache
from importlib import import_module
from typing import Any

import numpy as np
from scipy.interpolate import NdBSpline

SPLINE = "NdBSpline"
RECORDS: Mapping[str, tuple[str, tuple[str, ...] | None]] = {
    "SectionMesh": ("stringflux.geometry.mesh.pole", None),
    "PartShape": ("stringflux.geometry.shapes.row", None),
    "MagnetState": ("stringflux.geometry.shapes.magnet_state", None),
    "PoleShape": ("stringflux.geometry.shapes.row", None),
    "PlacedPole": ("stringflux.geometry.shapes.row", None),
    "Racetrack": ("stringflux.geometry.shapes.row", None),
    "PathCoil": ("stringflux.geometry.shapes.coil_path", None),
    "BiasState": ("stringflux.solver.section.bias", None),
    "Tangent": ("stringflux.solver.section.bias", None),
    "RowField": ("stringflux.solver.row.field", None),
    "PoleField": ("stringflux.solver.row.ring_table", ("excitations", "orders", "_spline")),
    "StringAnswer": ("stringflux.solver.row.string_answer", None),
    "RowImpedance": ("stringflux.solver.row.impedance", None),
    "HumArea": ("stringflux.postprocess.coil.hum", None),
    "Pull": ("stringflux.postprocess.string.pull", None),
    "StringAtRest": ("stringflux.cases.studies.designs.design", None),
    "RowFigures": ("stringflux.cases.solved.row_case", None),
    "CoilFigures": ("stringflux.cases.solved.build_case", None),
}
"""Classes that may be kept: their module, and what they hold if they are no dataclass."""
_NUMBERS = "biufc"  # kinds of arrays; objects are none
_ALIGNED = 16


def to_bytes(value: Any) -> bytes:
    """A value as a payload.

    Raises
    ------
    TypeError
        For a class that is not in :data:`RECORDS`.

    Examples
    --------
    >>> from_bytes(to_bytes((0.1, [np.float64(0.2)], None)))
    (0.1, [np.float64(0.2)], None)
    """
    writer = _Writer()
    text = json.dumps(writer.tree(value), separators=(",", ":")).encode()
    return b"".join([len(text).to_bytes(8, "little"), text, *writer.blocks])


def from_bytes(payload: bytes | bytearray | memoryview) -> Any:
    """The value of a payload.

    Raises
    ------
    ValueError, TypeError, LookupError, RecursionError
        If it is none.
    """
    view = memoryview(payload)
    begin = 8 + int.from_bytes(view[:8], "little")
    return _Reader(view[begin:]).value(json.loads(bytes(view[8:begin])))


class _Writer:
    def __init__(self) -> None:
        self.blocks: list[bytes] = []
        self._length = 0
        self._known: dict[int, int] = {}
        self._alive: list[Any] = []  # an object that is gone could leave its id to another

    def tree(self, x: Any) -> Any:
        kind = type(x)
        if x is None or kind in (bool, int, float, str):
            return x
        if kind is tuple or kind is list:
            return ["t" if kind is tuple else "l", *map(self.tree, x)]
        if kind is dict:
            return ["d", *([self.tree(k), self.tree(v)] for k, v in x.items())]
        if kind is bytes:
            return ["b", self._block(x), len(x)]
        if isinstance(x, np.generic):
            return ["n", *self._numbers(np.asarray(x))]
        if id(x) in self._known:
            return ["r", self._known[id(x)]]
        found = ["a", *self._numbers(x)] if kind is np.ndarray else self._record(x)
        self._known[id(x)] = len(self._alive)
        self._alive.append(x)
        return found

    def _record(self, x: Any) -> list[Any]:
        name = type(x).__name__
        if isinstance(x, NdBSpline):
            return ["c", SPLINE, self.tree(tuple(x.t)), self.tree(x.c), self.tree(tuple(map(int, x.k))),
                    bool(x.extrapolate)]
        if name not in RECORDS or type(x) is not _class(name)[0]:
            raise TypeError(f"{name} is none of the classes that may be kept")
        state: Any = x.__getstate__()  # what it holds for itself alone, such as factors, is left out
        return ["c", name, *(self.tree(state[field]) for field in _class(name)[1])]

    def _numbers(self, x: Any) -> list[Any]:
        if x.dtype.kind not in _NUMBERS:
            raise TypeError(f"arrays of {x.dtype} may not be kept")
        order = "F" if x.flags.f_contiguous and not x.flags.c_contiguous else "C"
        return [x.dtype.str, list(x.shape), order, self._block(x.tobytes(order))]

    def _block(self, raw: bytes) -> int:
        gap = -self._length % _ALIGNED
        self.blocks += [bytes(gap), raw]
        begin = self._length + gap
        self._length = begin + len(raw)
        return begin


class _Reader:
    def __init__(self, blocks: memoryview) -> None:
        self._blocks = blocks
        self._known: list[Any] = []

    def value(self, x: Any) -> Any:
        if not isinstance(x, list):
            return x
        mark, *rest = x
        if mark in ("t", "l"):
            items = [self.value(item) for item in rest]
            return tuple(items) if mark == "t" else items
        if mark == "d":
            return {self.value(k): self.value(v) for k, v in rest}
        if mark == "b":
            begin, length = rest
            return bytes(self._blocks[begin:begin + length])
        if mark == "n":
            return self._numbers(*rest)[()]
        if mark == "r":
            return self._known[rest[0]]
        if mark == "a":
            made = self._numbers(*rest)
        elif mark == "c":
            made = self._record(rest[0], [self.value(item) for item in rest[1:]])
        else:
            raise ValueError(f"no kind of value is called {mark!r}")
        self._known.append(made)
        return made

    def _record(self, name: str, values: list[Any]) -> Any:
        if name == SPLINE:
            knots, coefficients, degrees, beyond = values
            return NdBSpline(knots, coefficients, degrees, extrapolate=beyond)
        kind, names = _class(name)
        made: Any = object.__new__(kind)
        for field, value in zip(names, values, strict=True):
            object.__setattr__(made, field, value)
        return made

    def _numbers(self, dtype: str, shape: list[int], order: Any, begin: int) -> Any:
        kind = np.dtype(dtype)
        if kind.kind not in _NUMBERS:
            raise TypeError(f"an array of {kind}")
        count = int(np.prod(shape, dtype=np.int64))
        if begin < 0 or count < 0:
            raise ValueError("an array that lies nowhere")
        flat = np.frombuffer(self._blocks, kind, count, begin) if count else np.empty(0, kind)
        return np.array(flat.reshape(shape, order=order), order=order)


@cache
def _class(name: str) -> tuple[type, tuple[str, ...]]:
    """A class that may be kept, and the names of what it holds."""
    module, held = RECORDS[name]
    kind = getattr(import_module(module), name)
    return kind, held or tuple(f.name for f in fields(kind))
