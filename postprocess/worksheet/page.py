"""A sheet, or its key, as one HTML page: no script, nothing fetched, one page of A4 or letter paper when printed."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from ..demonstrations.quantities import digits, scale
from .answers import upwards
from .picture import SheetSection, svg
from .questions import Cell, Worksheet
from .swung import STEPS

TEMPLATES = Path(__file__).with_name("templates")
GENERATOR = "stringflux worksheet"
"""By this word in its head a file is known to be a sheet of ours, which a new one may replace."""
CAUTIONS = ("Strong magnets jump together and pinch. Keep them away from pacemakers and other implants, and from "
            "cards with a magnetic strip.",
            "Never open a device that runs on mains.")


@dataclass(frozen=True, kw_only=True)
class SheetRow:
    """A row of the table; `linkage` and `voltage` are empty on the students' sheet, `first` has no row before it."""

    number: int
    time: str
    place: str
    change: str
    linkage: str
    voltage: str
    first: bool


def page(sheet: Worksheet, section: SheetSection, *, name: str, seed: int | None, answers: bool) -> str:
    """The page as text.

    Parameters
    ----------
    name : str
        Of the case's file.
    seed : int or None
        Which variant it is.
    answers : bool
        The key instead of the sheet.
    """
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    f = sheet.figures
    pages = Environment(loader=FileSystemLoader(TEMPLATES), autoescape=True, undefined=StrictUndefined,
                        trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True)
    words = (f"Section through the pole of string {f.number}, to scale: the pole, the coil cut on both sides of it, "
             f"and the string over it, dashed where it turns. Current counts into the paper at ⊗, out of it at ⊙.")
    units = {"time": sheet.time[-1].unit, "place": sheet.place[-1].unit, "change": sheet.change[0].unit,
             "linkage": sheet.linkage_unit, "voltage": sheet.voltage_unit}
    return pages.get_template("worksheet.html").render(
        sheet=sheet, figures=f, rows=_rows(sheet, answers), units=units, picture=svg(section, words), name=name,
        variant="" if seed is None else f"{seed}", key=answers, cautions=CAUTIONS, generator=GENERATOR,
        style=(TEMPLATES / "worksheet.css").read_text(encoding="utf-8"), twelve=2 * STEPS,
        off=(_widest(sheet.linkage, sheet.linkage_unit), _widest(sheet.voltage, sheet.voltage_unit)),
        sense="counter-clockwise" if f.sense > 0 else "clockwise")


def _rows(sheet: Worksheet, answers: bool) -> list[SheetRow]:
    def told(cell: Cell, unit: str) -> str:
        return digits(cell.value * scale(unit)) if answers else ""

    return [SheetRow(
        number=k + 1, time=_number(t.printed), place=_number(z.printed), change=_number(c.printed),
        linkage=told(sheet.linkage[k], sheet.linkage_unit), first=k == 0,
        voltage=told(sheet.voltage[k - 1], sheet.voltage_unit) if k else "")
        for k, (t, z, c) in enumerate(zip(sheet.time, sheet.place, sheet.change, strict=True))]


def _number(printed: str) -> str:
    """Without its unit, which stands in the head."""
    return printed.split(" ")[0]


def _widest(cells: tuple[Cell, ...], unit: str) -> str:
    return f"± {upwards(max(c.tolerance for c in cells) * scale(unit))} {unit}"
