"""Small builds whose bodies are shaped: a chisel under one string, a blade under two; invented."""

from __future__ import annotations

from pathlib import Path

_REST = """
[[body]]
shape = "box"
name = "bar"
material = "ceramic-8"
along = "10 mm"
across = "{across}"
height = "5 mm"
top = "-10.4 mm"
magnetised = "up"

[coil]
inner_width = "6 mm"
inner_length = "{inside}"
outer_width = "14 mm"
bottom = "-9.6 mm"
top = "-1 mm"
turns = 5500
wire = "42 AWG"

[strings]
scale = "25.5 in"
height = "4 mm"
spacing = "10 mm"

[[string]]
gauge = "0.017 in"
pitch = "G3"
"""

_CHISEL = """
title = "Chisel"

[[body]]
shape = "wedge"
name = "chisel"
material = "steel-1008"
along = "4 mm"
across = "8 mm"
height = "12 mm"
tip_along = "2 mm"
tip_height = "4 mm"
top = "1.6 mm"
"""

_EDGE = """
title = "Blade"

[[body]]
shape = "prism"
name = "blade"
material = "steel-1008"
lies = "along the strings"
length = "3 mm"
outline = [["10 mm", "-10.4 mm"], ["10 mm", "1.5 mm"], ["0 mm", "1.5 mm"], ["-10 mm", "1.5 mm"],
           ["-10 mm", "-10.4 mm"]]
bottom = "-10.4 mm"
"""

_SECOND = """
[[string]]
gauge = "0.013 in"
pitch = "B3"
"""


def chisel_file(folder: Path) -> Path:
    """One string over a wedge on a bar magnet; x = 0 and y = 0 halve it."""
    path = folder / "chisel.toml"
    path.write_text(_CHISEL + _REST.format(across="10 mm", inside="10 mm"), encoding="utf-8")
    return path


def edge_file(folder: Path) -> Path:
    """Two strings over a prism whose upper edge has three corners; x = 0 halves it."""
    path = folder / "edge.toml"
    path.write_text(_EDGE + _REST.format(across="22 mm", inside="22 mm") + _SECOND, encoding="utf-8")
    return path
