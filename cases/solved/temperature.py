"""What a case's temperature changes, in sentences; nothing is solved for it."""

from __future__ import annotations

from stringflux.geometry.case.model import Case
from stringflux.postprocess.coil.winding import warming
from stringflux.solver.materials import MagnetCurve, Materials, find_material, is_magnet
from stringflux.solver.materials.temperature import REFERENCE, knee, remanence_change


def temperature_notes(case: Case, materials: Materials) -> tuple[str, ...]:
    """What is to be said of a case that is warmer or colder than 20 °C.

    Parameters
    ----------
    materials : mapping
        Material objects by name, at the temperature of the case.
    """
    celsius = case.conditions.temperature
    if celsius == REFERENCE:
        return ()
    magnets = {m.name: m for b in case.solid_bodies() if b.polarity and is_magnet(m := materials[b.material])}
    told = [f"at {celsius:g} °C the copper has {_more(warming(celsius) - 1)} resistance than at {REFERENCE:g} °C"]
    for magnet in magnets.values():
        low, nominal, high = remanence_change(magnet, celsius)
        doubt = "" if low == high else f" ({100 * low:+.2g} to {100 * high:+.2g} % by what is known of it)"
        told.append(f"{magnet.name} {_more(nominal)} remanence{doubt}")
    knees = [said for m in magnets.values() if (said := _knee(m, case))]
    return (f"{'; '.join(told)}; poles of steel and strings are taken as at {REFERENCE:g} °C.", *knees)


def _more(share: float) -> str:
    return f"{100 * abs(share):.2g} % {'less' if share < 0 else 'more'}"


def _knee(magnet: MagnetCurve, case: Case) -> str:
    """Where the knee comes up to, if it does."""
    here = knee(magnet)
    own = case.materials.get(magnet.name)
    before = None if own is not None else find_material(magnet.name)
    there = knee(before) if before is not None and is_magnet(before) else None
    if magnet.thermal.coercivity is None or here is None or here <= (there or 0.0):
        return ""
    return (f"at {case.conditions.temperature:g} °C the knee of {magnet.name} stands at {here * 1e3:.0f} mT"
            f"{f', {there * 1e3:.0f} mT at {REFERENCE:g} °C' if there else ''}: where the flux density inside falls "
            "under that, the field counted here is less, and that part does not come back.")
