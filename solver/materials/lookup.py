"""From a name to a material: the shipped table, and what a case defines itself."""

from __future__ import annotations

import math
import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from stringflux.geometry.case.materials import OwnMaterial
from stringflux.geometry.errors import CaseError
from stringflux.geometry.material_names import materials_called

from ..constants import MU0
from .constant import ConstantPermeability
from .demagnetisation import Demagnetisation, Hyperbola, Knee
from .kinds import Material, Materials
from .magnet import MagnetCurve, linear_magnet, magnet_from_points
from .soft import Roschke, SoftCurve, soft_from_points
from .string_points import StringPoints
from .string_steel import StringSteel
from .thermal import UNSAID, Thermal


@cache
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(files(__package__).joinpath("table.toml").read_text(encoding="utf-8"))


def known_materials() -> tuple[str, ...]:
    """Names in the shipped table, in its order."""
    return tuple(_table())


def material_uses() -> dict[str, str]:
    """What each name of the table is for: "magnet", "soft", "string", "conductor" or "spacer".

    The last two hold no magnetism: sheet metal, and what is nothing but a distance. Air keeps its place among "soft".
    """
    uses = {"hyperbola": "magnet", "knee": "magnet", "string": "string"}
    out = {name: uses.get(row["kind"], "soft") for name, row in _table().items()}
    for name, row in _table().items():
        if row.get("mu_r") == 1.0 and name != "air":
            out[name] = "conductor" if "resistivity" in row else "spacer"
    return out


def find_material(name: str, own: Materials | None = None) -> Material:
    """The material of that name: the case's own first, then the table.

    Raises
    ------
    CaseError
        There is none; near matches are named.

    Examples
    --------
    >>> magnet = find_material("alnico-5")
    >>> round(float(magnet.major(0.0)[0]), -2)
    -50900.0
    """
    if own is not None and name in own:
        return own[name]
    if name in _table():
        return _shipped(name)
    near = materials_called(name, [*(own or ()), *_table()])
    hint = f"did you mean {', '.join(near)}?" if near else "`stringflux materials` lists them"
    raise CaseError(f"material: there is no {name!r}; {hint}")


def material_from_definition(name: str, definition: OwnMaterial) -> Material:
    """Build what a case file defines under [materials].

    Parameters
    ----------
    name : str
        The name the file gives it.
    definition
        One of the classes of ``stringflux.geometry.case.materials``, SI.

    Raises
    ------
    CaseError
        If the curve is none that a material has.
    """
    d = definition
    match d.kind:
        case "linear magnet":
            return linear_magnet(
                name=name,
                remanence=d.remanence,
                mu_recoil=d.recoil_permeability,
                mu_reversible=d.reversible_permeability,
                mu_transverse=d.transverse_permeability,
                resistivity=_ohms(d.resistivity),
                thermal=_thermal(d.remanence_per_kelvin),
            )
        case "demagnetisation curve":
            return magnet_from_points(
                name=name,
                points=d.curve(),
                mu_recoil=d.recoil_permeability,
                mu_reversible=d.reversible_permeability,
                mu_transverse=d.transverse_permeability,
                resistivity=_ohms(d.resistivity),
                thermal=_thermal(d.remanence_per_kelvin),
            )
        case "BH table":
            return soft_from_points(
                name=name,
                points=d.curve(),
                mu_reversible=d.reversible_permeability,
                resistivity=_ohms(d.resistivity),
            )
        case "constant permeability":
            return ConstantPermeability(
                name=name, mu_r=d.permeability, resistivity=_ohms(d.resistivity), source="given in the case"
            )
        case "string steel":
            return StringSteel(
                name=name,
                saturation=d.saturation / MU0,
                chi_initial=d.initial_susceptibility,
                chi_reversible=d.reversible_susceptibility,
                chi_reversible_range=(d.reversible_susceptibility, d.reversible_susceptibility),
                **_pinning(d.pinning),
                law=d.law,
                density=d.density,
                source="given in the case",
            )
        case "string BH table":
            table = StringPoints.of(d.magnetisations(), d.polarisation() / MU0)
            return StringSteel(
                name=name,
                saturation=table.saturation,
                chi_initial=table.initial,
                chi_reversible=d.reversible_susceptibility,
                chi_reversible_range=(d.reversible_susceptibility, d.reversible_susceptibility),
                **_pinning(d.pinning),
                law="table",
                table=table,
                density=d.density,
                source="given in the case",
            )
        case kind:
            raise CaseError(f"material {name!r}: kind: {kind!r} is none that can be built")


def _pinning(given: float | None) -> dict[str, Any]:
    """What is given, without doubt; where nothing is, that of the table's steel."""
    if given is not None:
        return {"pinning": given, "pinning_range": (given, given)}
    usual = _table()["string-steel"]
    return {"pinning": usual["pinning"], "pinning_range": tuple(usual["pinning_range"])}


def _ohms(given: float | None) -> float:
    """Ω·m; what is not given carries no eddy currents."""
    return math.inf if given is None else given


def _thermal(remanence: float | None) -> Thermal:
    """What a case says of its own magnet; its knee is taken as it is."""
    return UNSAID if remanence is None else Thermal(remanence=remanence, remanence_range=(remanence, remanence))


@cache
def _shipped(name: str) -> Material:
    return _build(name, dict(_table()[name]))


def _build(name: str, row: dict[str, Any]) -> Material:
    kind = row.pop("kind")
    for key in ("mu_recoil_range", "mu_transverse_range", "mu_reversible_range", "chi_initial_range",
                "chi_reversible_range", "pinning_range"):
        if key in row:
            row[key] = tuple(row[key])
    if kind in ("hyperbola", "knee"):
        return _magnet(name, kind, row)
    if kind == "roschke":
        law = Roschke(**{k: row.pop(k) for k in ("mu_initial", "scale", "ca", "cb", "n")})
        return SoftCurve(name=name, law=law, **row)
    if kind == "table":
        return soft_from_points(name=name, **row)
    if kind == "string":
        js = row.pop("saturation_polarisation", float("inf"))
        return StringSteel(name=name, saturation=js / MU0, **row)
    return ConstantPermeability(name=name, **row)


def _magnet(name: str, kind: str, row: dict[str, Any]) -> MagnetCurve:
    warm: dict[str, Any] = {k: tuple(v) if isinstance(v, list) else v for k, v in row.pop("thermal").items()}
    thermal = Thermal(**warm)
    intrinsic, energy = row.pop("intrinsic_coercivity"), row.pop("energy_product", None)
    core = {k: row[k] for k in ("remanence", "coercivity")}
    law: Demagnetisation
    if kind == "hyperbola":
        law = Hyperbola(energy_product=energy, mu_least=row["mu_recoil_range"][0],
                        intrinsic_coercivity=intrinsic, **core)
    else:
        law = Knee.fitted(
            intrinsic_coercivity=intrinsic, energy_product=energy, mu_recoil=row["mu_recoil"], **core
        )
    return MagnetCurve(name=name, law=law, thermal=thermal, **row)
