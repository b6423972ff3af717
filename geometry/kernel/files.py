"""Solids of files, STEP and STL, and outlines of DXF: found, checked and made.

A STEP file says its own unit. The numbers of STL have none, those of DXF often a wrong one, so they are asked for.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from ..arrays import Array
from ..errors import CaseError
from ..shapes.pieces import FromFile
from ..units import mm
from .rings import Ints
from .session import gmsh_model
from .triangles import add_triangles, merged

LARGEST_FILE = 50_000_000  # bytes
SMALLEST, LARGEST = 0.05e-3, 200e-3  # m, of a body's sizes
_SLIVER, _SHORT = 5e-3, 1e-3  # mm: least width of a face, least length of an edge
STEP, STL = (".step", ".stp"), (".stl",)
_MM = 1e3


def content(path: str, name: str) -> bytes:
    """What a file holds.

    Raises
    ------
    CaseError
        If it is none, cannot be read or is too large.
    """
    try:
        size = Path(path).stat().st_size
        if size > LARGEST_FILE:
            raise CaseError(f"{name}: it has {size / 1e6:.0f} MB, and {LARGEST_FILE / 1e6:.0f} MB are the most; "
                            "export it coarser")
        return Path(path).read_bytes()
    except FileNotFoundError:
        raise CaseError(f"there is no {name} in {Path(path).parent}; a path counts from the folder of the case file"
                        ) from None
    except (OSError, ValueError) as error:
        raise CaseError(f"{name} cannot be read: "
                        f"{getattr(error, 'strerror', None) or error}") from None


def solid_of(path: str, unit: float) -> FromFile:
    """One closed solid of a STEP or STL file, checked.

    Parameters
    ----------
    path : str
        Whole path.
    unit : float
        Metres in one unit of its numbers; 0 of STEP.

    Raises
    ------
    CaseError
        If there is no such file, or it holds anything but one closed solid of a body's size.
    MissingLibraryError
        When gmsh cannot be loaded.
    """
    return _checked(path, unit, stamp_of(path))


def stamp_of(path: str) -> tuple[int, int]:
    """What a file is told from its later versions by: when it was changed, and its size; zeros without one."""
    try:
        info = Path(path).stat()
    except (OSError, ValueError):
        return 0, 0
    return info.st_mtime_ns, info.st_size


@lru_cache(maxsize=64)
def _checked(path: str, unit: float, stamp: tuple[int, int]) -> FromFile:
    name = Path(path).name
    data = content(path, name)
    shape = FromFile(path=path, digest=hashlib.sha256(data).hexdigest(), unit=unit)
    with gmsh_model("file") as gmsh:
        occ = gmsh.model.occ
        solids = add_file(occ, shape, _MM)
        box = np.array([occ.getBoundingBox(*s) for s in solids])
        sizes = (box[0, 3:] - box[0, :3]) / _MM
        if not SMALLEST <= sizes.min() <= sizes.max() <= LARGEST:
            words = " × ".join(mm(round(float(s), 8)) for s in sizes)
            raise CaseError(f"{name}: it is {words} large; a body is from {mm(SMALLEST)} to {mm(LARGEST)}, so check "
                            "its unit" + ("" if unit else ", which is written in a STEP file"))
        occ.synchronize()
        _no_slivers(gmsh, solids, name)
    return shape


def _no_slivers(gmsh: Any, solids: list[tuple[int, int]], name: str) -> None:
    """Refuse faces and edges that no mesh takes."""
    occ = gmsh.model.occ
    for _, face in gmsh.model.getBoundary(solids, oriented=False):
        edges = [tag for _, tag in gmsh.model.getBoundary([(2, face)], oriented=False)]
        lengths = [float(occ.getMass(1, tag)) for tag in edges]
        width = 2 * float(occ.getMass(2, face)) / sum(lengths) if lengths else np.inf
        short = [tag for tag, length in zip(edges, lengths, strict=True) if length < _SHORT]
        if width >= _SLIVER and not short:
            continue
        dim, tag = (1, short[0]) if short else (2, face)
        at = occ.getCenterOfMass(dim, tag)
        what = f"an edge {1e3 * min(lengths):.2g} µm long" if short else f"a face {1e3 * width:.2g} µm wide"
        raise CaseError(f"{name}: it has a sliver, {what}, near [{', '.join(f'{v:.4g} mm' for v in at)}]; no mesh "
                        "takes it, so mend it where it was drawn")


def add_file(occ: Any, shape: FromFile, unit: float) -> list[tuple[int, int]]:
    """The solid of a file, `unit` kernel's units to a metre.

    Raises
    ------
    CaseError
        If the file has changed, or holds no closed solid, or several.
    """
    name = Path(shape.path).name
    data = content(shape.path, name)
    if hashlib.sha256(data).hexdigest() != shape.digest:
        raise CaseError(f"{name}: it has changed while it was used; start again")
    if Path(shape.path).suffix.lower() in STL:
        points, triangles = _stl(data, name)
        return add_triangles(occ, unit * shape.unit * points, triangles, name)
    import gmsh

    gmsh.option.setString("Geometry.OCCTargetUnit", "MM")
    try:
        with _mute():
            found = occ.importShapes(shape.path, highestDimOnly=False, format="step")
    except Exception as error:  # gmsh raises nothing finer
        raise CaseError(f"{name}: it cannot be read as STEP; export it anew as a solid") from error
    solids = [p for p in found if p[0] == 3]
    if len(solids) != 1:
        open_ones = sum(p[0] == 2 for p in found)
        shell = f"{open_ones} face{'s' * (open_ones > 1)}"
        what = (f"it holds {len(solids)} solids; write each into a file of its own" if solids else
                f"it holds no closed solid, only an open shell of {shell}; close it where it was drawn"
                if open_ones else "it holds no solid; export it anew as one")
        raise CaseError(f"{name}: {what}")
    if unit != _MM:
        occ.dilate(solids, 0, 0, 0, *(3 * [unit / _MM]))
    return solids


def _stl(data: bytes, name: str) -> tuple[Array, Ints]:
    """Points (n, 3) and triangles (m, 3) of binary or plain STL, in its own unit."""
    count = int.from_bytes(data[80:84], "little") if len(data) >= 84 else -1
    if len(data) == 84 + 50 * count:
        record = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])
        corners = np.frombuffer(data, record, count, 84)["corners"].astype(float)
    else:
        words = data.decode("ascii", errors="replace").split()
        try:
            corners = np.array([[float(v) for v in words[i + 1:i + 4]] for i, word in enumerate(words)
                                if word.lower() == "vertex"]).reshape(-1, 3, 3)
        except ValueError:
            raise CaseError(f"{name}: it cannot be read as STL; export it anew") from None
    if not len(corners) or not np.all(np.isfinite(corners)):
        raise CaseError(f"{name}: it cannot be read as STL; export it anew")
    return merged(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), name)


@contextmanager
def _mute() -> Iterator[None]:
    """The kernel's reader complains past Python on the standard output; what is wrong is told here."""
    try:
        kept, nowhere = os.dup(1), os.open(os.devnull, os.O_WRONLY)
    except OSError:  # there is no standard output
        yield
        return
    try:
        os.dup2(nowhere, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
