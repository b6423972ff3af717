"""Memory and time that a 3-D mesh with a string will take, and the refusal when there is not that much.

Measured (Python 3.11, one thread, the shipped cases): see docs/measured.md.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable
from dataclasses import dataclass

from stringflux.geometry.errors import CaseError
from stringflux.geometry.mesh.solid import SolidMesh
from stringflux.geometry.units import shown
from stringflux.solver.aside import another_core

BASE = 0.3e9  # bytes: the program and its libraries, at least
PER_UNKNOWN = 4e3  # bytes; 3.2 to 3.8 measured, up to 790 000 unknowns
PER_UNKNOWN_TWICE = 8e3  # where another core has a height too; 5.6 to 7.7 measured, likewise
PER_SECOND = 5000.0  # unknowns, three heights with their Newton steps; 5 200 to 13 000 measured
MANY = 430e3  # unknowns; the more there are beyond, the slower: 790 000 took 302 s, 2 600 a second
_SPARE = 0.9  # of the free memory
_UNITS = {"MB": 1e6, "GB": 1e9, "MiB": 2.0**20, "GiB": 2.0**30}


@dataclass(frozen=True, kw_only=True)
class Needs:
    """Of one mesh: unknowns, bytes of the whole program and seconds."""

    unknowns: int
    memory: float
    seconds: float

    def fits(self, limit: float | None) -> bool:
        """Whether the memory is there."""
        room = _room(limit)
        return room is None or self.memory <= room


def needs_for(mesh: SolidMesh) -> Needs:
    """What a solution on a mesh will take, besides what the program has in memory already: the chain of a build is
    3-D too."""
    vertices, cells = mesh.points.shape[1], mesh.tetrahedra.shape[1]
    boundary = mesh.far_facets.shape[1] + sum(p.shape[1] for p in mesh.planes.values())
    unknowns = 2 * vertices + cells + boundary // 2 - 1  # Euler: edges = vertices + cells + ½ boundary − 1
    each = PER_UNKNOWN_TWICE if another_core() else PER_UNKNOWN
    return Needs(unknowns=unknowns, memory=max(BASE, resident()) + each * unknowns,
                 seconds=unknowns / PER_SECOND * max(1.0, unknowns / MANY))


def refuse_beyond(memory: float, limit: float | None, string: int) -> None:
    """Raise a CaseError when `memory` bytes are more than there are."""
    room = _room(limit)
    if room is not None and memory > room:
        given = "--memory allows" if limit is not None and limit <= room / 0.999 else "this machine has free"
        raise CaseError(f"verify: string {string} in 3-D needs about {said_memory(memory)} and {given} "
                        f"{said_memory(room, math.floor)}; write --quality draft for coarser meshes, or run it where "
                        "there is more memory")


def said_memory(size: float, whole: Callable[[float], int] = math.ceil) -> str:
    """Bytes in two digits or so: what is needed rounded up, what there is, by `math.floor`, down."""
    if size < 1e9:
        return f"{10 * whole(round(size / 1e7, 6))} MB"
    return f"{whole(round(size / 1e8, 6)) / 10:.1f} GB"


def read_memory(text: str) -> float:
    """``4GB`` in bytes."""
    found = re.fullmatch(r"\s*(\d+(?:\.\d*)?)\s*(MB|GB|MiB|GiB)\s*", text)
    if found is None or float(found[1]) <= 0:
        raise CaseError(f"--memory: received {shown(text)}; write for example 4GB or 800MB")
    return float(found[1]) * _UNITS[found[2]]


def free_memory() -> float | None:
    """Bytes that the machine can give, None where it does not say."""
    try:
        with open("/proc/meminfo", encoding="ascii") as file:
            for line in file:
                if line.startswith("MemAvailable:"):
                    return float(line.split()[1]) * 1024
    except OSError:
        pass
    try:
        return float(os.sysconf("SC_AVPHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))
    except (AttributeError, OSError, ValueError):
        return None


def resident() -> float:
    """Bytes that this program holds, 0 where the machine does not say."""
    try:
        with open("/proc/self/statm", encoding="ascii") as file:
            return float(file.read().split()[1]) * os.sysconf("SC_PAGE_SIZE")
    except (OSError, AttributeError, ValueError):
        return 0.0


def _room(limit: float | None) -> float | None:
    free = free_memory()
    rooms = [r for r in (limit, None if free is None else _SPARE * free + resident()) if r is not None]
    return min(rooms, default=None)
