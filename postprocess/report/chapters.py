"""The chapters of a report, in their order."""

from __future__ import annotations

from collections.abc import Mapping

from .bench import bench_page
from .build import bodies_table, coils_table, mesh_rows, residue_table, solver_words
from .coil import (
    area_table,
    hum_level_table,
    hum_table,
    hum_words,
    impedance_table,
    load_words,
    loaded_table,
    packings_table,
    winding_table,
)
from .findings import Findings
from .inputs import change_words, input_tables
from .motion import pull_table, signal_table
from .page import Report, ReportFigure, ReportList, ReportSection, ReportTable, ReportText, words
from .pictures import sound
from .strings import balance_table, materials_table, poles_table, strings_table
from .summary import key_figures, summary
from .trust import assumed, cautions, trust_table, without
from .words import sentence


def report_of(found: Findings, drawn: Mapping[str, ReportFigure]) -> Report:
    """Write the report of a case.

    Parameters
    ----------
    found : Findings
    drawn : mapping of str to ReportFigure
        Its figures, from :mod:`.pictures`.
    """
    magnets = any(body.polarity for body in found.case.solid_bodies())
    return Report(
        title=found.title, note=found.case.note, facts=(("Case", found.name), ("Quality", found.prediction.quality)),
        summary=summary(found), figures=key_figures(found),
        sections=(
            ReportSection(key="drawing", title="The pickup to scale", parts=(drawn["drawing"],)),
            bench_page(found),
            _strings(found, drawn),
            _bodies(found, drawn),
            _coil(found),
            ReportSection(key="impedance", title="Impedance and load", words=(load_words(found),),
                          parts=(impedance_table(found), loaded_table(found), drawn["impedance"])),
            *_signal(found, drawn),
            ReportSection(key="hum", title="Hum", words=(hum_words(found),),
                          parts=(area_table(found), *residue_table(found), hum_table(found), hum_level_table(found))),
            *_pull(found),
            ReportSection(key="trust", title="How far to trust it", parts=(
                trust_table(found), assumed(found), *_notes(found))),
            ReportSection(key="care", title="Take care", parts=(cautions(magnets),)),
            _inputs(found),
            ReportSection(key="made", title="How it was computed", parts=(_versions(found),)),
        ),
    )


def _strings(found: Findings, drawn: Mapping[str, ReportFigure]) -> ReportSection:
    several = len(found.prediction.strings) > 1
    balance = (balance_table(found), drawn["balance"]) if several else ()
    maps = (drawn["linkage"],) if "linkage" in drawn else ()
    return ReportSection(key="strings", title="Strings" + (" and their balance" if several else ""),
                         parts=(strings_table(found), *balance, *maps, drawn["fields"]))


def _bodies(found: Findings, drawn: Mapping[str, ReportFigure]) -> ReportSection:
    """Poles and other bodies, and a picture of the field in them."""
    if found.build is None:
        return ReportSection(key="poles", title="Poles and magnets", parts=(poles_table(found), drawn["section"],
                                                                            materials_table(found)))
    poles = (poles_table(found),) if found.prediction.poles else ()
    others = bodies_table(found.case)
    title = " and ".join(word for word, there in (("poles", poles), ("bodies", others)) if there)
    return ReportSection(key="poles", title=sentence(title), words=(solver_words(found),),
                         parts=(*poles, *others, drawn["slice"], materials_table(found)))


def _coil(found: Findings) -> ReportSection:
    """What to wind, coil by coil, and what they are together."""
    made = found.windings
    if len(made) == 1:
        return ReportSection(key="coil", title="Coil", parts=(winding_table(made[0]), packings_table(made[0])))
    each = [table for name, w in zip(found.case.coil_names(), made, strict=True)
            for table in (winding_table(w, f"Winding of {name}"),
                          packings_table(w, f"Ways to lay the turns of {name}"))]
    return ReportSection(key="coil", title="Coils", parts=(*coils_table(found), *each))


def _signal(found: Findings, drawn: Mapping[str, ReportFigure]) -> tuple[ReportSection, ...]:
    if not found.played:
        return ()
    return (ReportSection(
        key="signal", title="Plucked strings", words=(f"All strings {found.pluck}.",),
        parts=(signal_table(found), sound(found), *(drawn[n] for n in ("waveform", "spectrum", "distortion")))),)


def _pull(found: Findings) -> tuple[ReportSection, ...]:
    if not found.pulls:
        return ()
    told = ("The magnets pull the strings and so soften them. It lowers the pitch of the up and down motion, "
            "changes that "
            "of the sideways motion differently, and the two beat. More gap or weaker magnets mend it.")
    return (ReportSection(key="pull", title="Pull of the magnets", words=(told,), parts=(pull_table(found),)),)


def _notes(found: Findings) -> tuple[ReportList, ...]:
    notes = tuple(("Note:", note) for note in found.prediction.notes)
    return ((ReportList(items=notes),) if notes else ()) + ((without(found.without),) if found.without else ())


def _inputs(found: Findings) -> ReportSection:
    told = ["The case as it was read. Quantities are shown in the units that people read; \"usual value\" marks "
            "what the "
            "file leaves out."]
    if found.changes:
        told.append(f"Changed on the command line: {change_words(found.changes)}.")
    return ReportSection(key="inputs", title="Inputs", words=tuple(told), parts=(
        *input_tables(found.case), ReportText(title=f"The case file {found.name} as it is", text=found.text)))


def _versions(found: Findings) -> ReportTable:
    p = found.prediction
    bias, signal = p.rounds
    row = {
        "Neighbours change a pole's magnetisation by": f"up to {100 * p.coupling:.1f} %",
        "Rounds of coupling": f"{bias} for the magnets, {signal} for the coil",
    }
    solver = row if found.build is None else mesh_rows(found)
    rows = {"Quality of the meshes": p.quality, **solver, **found.versions}
    return ReportTable(caption="Settings and programs", columns=(words("What", list(rows)),
                                                                 words("Which", list(rows.values()))))
