"""`stringflux cases` and `stringflux materials`."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from stringflux.geometry.errors import CaseError, OutputError
from stringflux.geometry.units import shown

from ..files.load import read_toml, shipped_cases
from ..terminal.options import Force, Verbose
from ..terminal.tables import Column, console, fitting, table

if TYPE_CHECKING:
    from stringflux.solver.materials import Material

PICTURES = (".png", ".svg", ".pdf")


def cases(verbose: Verbose = 0) -> None:
    """Name and title of every shipped case; with `-v` also the files."""
    found = shipped_cases()
    columns = [
        Column(head="Name", cells=tuple(found)),
        Column(head="What it is", cells=tuple(str(read_toml(p).get("title", "")) for p in found.values())),
    ]
    to = console()
    to.print(table("Shipped cases", columns, left=2))
    if verbose:
        for path in found.values():
            to.print(str(path), markup=False, soft_wrap=True)
    to.print("\nstringflux predict NAME computes one; stringflux start FILE writes one of your own to edit.")


def materials(
    name: Annotated[
        str | None, typer.Argument(metavar="NAME", help="One material, with its source.", show_default=False)
    ] = None,
    plot: Annotated[bool, typer.Option("--plot", help="Draw its curve into NAME.png.")] = False,
    out: Annotated[
        str | None,
        typer.Option("--out", metavar="FILE", show_default=False, help="Draw into this PNG, SVG or PDF."),
    ] = None,
    force: Force = False,
    verbose: Verbose = 0,
) -> None:
    """The table of materials, or one with its source, and its curve as a picture."""
    if name is None:
        if plot or out is not None:
            raise CaseError("materials: --plot and --out draw one material; name it, for example alnico-5")
        _print_all()
        return
    from stringflux.geometry.material_names import materials_called
    from stringflux.solver.materials import find_material, known_materials

    called = () if name in known_materials() else materials_called(name, known_materials())
    name = called[0] if len(called) == 1 else name
    material = find_material(name)
    picture = _picture(out or f"{name}.png", force=force) if plot or out is not None else None
    to = console()
    to.print(name, style="bold", markup=False)
    facts = [*_numbers(material), *_warmed(material), ("source", material.source)]
    width = max(len(head) for head, _ in facts)
    for head, text in facts:
        to.print(f"  {head:<{width}}  {text}", markup=False, soft_wrap=True)
    if picture is not None:
        _draw(material, picture)
        print(f"Curve: {picture}")


def _picture(out: str, *, force: bool) -> Path:
    path = Path(out)
    if path.suffix.lower() not in PICTURES:
        raise OutputError(f"--out: received {shown(out)}; name a file that ends in {', '.join(PICTURES)}")
    if not path.parent.is_dir():
        raise OutputError(f"--out: received {shown(out)}, but there is no folder {shown(str(path.parent))}")
    if path.exists() and not force:
        raise OutputError(f"--out: received {shown(out)}, which is already there; name another file or add --force")
    return path


def _draw(material: Material, path: Path) -> None:
    from stringflux.postprocess.results.material import material_curve

    from ..output.figure_files import save_figure

    try:
        save_figure(material_curve(material).figures()[material.name], path)
    except OSError as error:
        raise OutputError(f"--out: {shown(str(path))} cannot be written ({error.strerror})") from None


def _print_all() -> None:
    from stringflux.solver.materials import find_material, known_materials

    groups: dict[str, list[tuple[str, Material]]] = {title: [] for title in _TITLES}
    for name in known_materials():
        material = find_material(name)
        groups[_title(material)].append((name, material))
    to = console()
    for title, members in groups.items():
        if members:
            short = [replace(c, cells=tuple(cell.partition(" (")[0] for cell in c.cells)) for c in _columns(members)]
            to.print(fitting(title, _columns(members), to, left=1) or table(title, short, left=1))
    to.print("\nstringflux materials NAME shows where the numbers come from; --plot draws the curve.")


def _columns(members: Sequence[tuple[str, Material]]) -> list[Column]:
    rows = [dict(_numbers(material)) for _, material in members]
    heads = list(rows[0])
    return [
        Column(head="Name", cells=tuple(name for name, _ in members)),
        *(Column(head=head.replace(", ", "\n"), cells=tuple(row[head] for row in rows)) for head in heads),
    ]


_TITLES = MAGNETS, STEELS, CONSTANT, METALS = (
    "Magnets", "Soft steels", "Constant permeability", "String metals")


def _title(m: Material) -> str:
    """Of the table that it stands in."""
    from stringflux.solver.materials import is_magnet, is_steel, is_string_metal

    if is_magnet(m):
        return MAGNETS
    if is_steel(m):
        return STEELS
    return METALS if is_string_metal(m) else CONSTANT


def _numbers(m: Material) -> list[tuple[str, str]]:
    """The figures of a material that fit a table, by kind."""
    from stringflux.solver.materials import is_magnet, is_steel, is_string_metal

    if is_magnet(m):
        return [
            ("Br, T", f"{m.remanence:.3g}"),
            ("Hc, kA/m", f"{m.coercivity / 1e3:.4g}"),
            ("BHmax, kJ/m³", f"{m.energy_product / 1e3:.3g}"),
            ("recoil, μr", _with_range(m.mu_recoil, m.mu_recoil_range)),
            ("signals, μr", _with_range(m.mu_signal, m.mu_signal_range)),
            ("across, μr", _with_range(m.mu_transverse, m.mu_transverse_range)),
            ("resistivity, µΩ cm", _resistivity(m.resistivity)),
        ]
    if is_string_metal(m):
        saturated = m.law != "linear"
        return [
            ("Js, T", f"{m.polarisation:.3g}" if saturated else "none"),
            ("static, χ", f"{m.chi_initial:.4g}"),
            ("reversible, χ", _with_range(m.chi_reversible, m.chi_reversible_range)),
            ("pinning, A/m", _with_range(m.pinning, m.pinning_range)),
            ("density, kg/m³", f"{m.density:.0f}"),
        ]
    if is_steel(m):
        return [
            ("Js, T", f"{m.saturation:.3g}"),
            ("reversible, μr", _with_range(m.mu_reversible, m.mu_reversible_range)),
            ("resistivity, µΩ cm", _resistivity(m.resistivity)),
        ]
    return [("permeability, μr", f"{m.mu_r:.6g}"), ("resistivity, µΩ cm", _resistivity(m.resistivity))]


def _warmed(m: Material) -> list[tuple[str, str]]:
    """How a magnet changes with temperature."""
    from stringflux.solver.materials import is_magnet

    if not is_magnet(m) or m.thermal.remanence is None:
        return []
    br, (low, high), (cold, hot) = m.thermal.remanence, m.thermal.remanence_range, m.thermal.range
    knee = "" if m.thermal.coercivity is None else f", of Hci {100 * m.thermal.coercivity:+.2g}"
    return [("per kelvin, %", f"of Br {100 * br:+.2g} ({100 * low:+.2g} to {100 * high:+.2g}){knee}, "
                              f"{cold:g} to {hot:g} °C")]


def _with_range(value: float, ends: tuple[float, float]) -> str:
    return f"{value:.4g}" if ends[0] == ends[1] else f"{value:.4g} ({ends[0]:g}–{ends[1]:g})"


def _resistivity(value: float) -> str:
    return "insulator" if value == float("inf") else f"{value * 1e8:.3g}"
