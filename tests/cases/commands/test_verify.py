"""`stringflux verify` as a person calls it, on meshes so coarse that they prove little and take a second."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any

import pytest

from rigs.cases.envelope import document_of
from stringflux.cases.cli import main
from stringflux.cases.commands.verify import VerifyOptions, run
from stringflux.cases.files.load import load_case
from stringflux.cases.jobs import verify, verify_coils, verify_needs
from stringflux.cases.jobs.verify_meshes import VerifyNumerics
from stringflux.cases.solved.materials import case_materials
from stringflux.geometry.errors import CaseError
from stringflux.geometry.shapes.row import Racetrack
from stringflux.geometry.shapes.symmetry import Symmetry
from stringflux.solver.solid.space import solid_space

pytestmark = pytest.mark.usefixtures("shared_solutions")

COARSE = VerifyNumerics(levels=(0.5, 0.6, 0.75))
ONE_MORE = VerifyNumerics(levels=(0.45, 0.5, 0.6, 0.75))
_COARSE = 0.06  # of fields, L, λ and S on these meshes


def test_folder_table_and_document(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Chain and 3-D tell the same within what such meshes can, in the table, the JSON and the CSV; what a mesh more
    takes is told before it."""
    out = tmp_path / "results"
    run(VerifyOptions(which="bench-single", quality="draft", out=str(out), within="0.01%"), ONE_MORE)
    said = capsys.readouterr()
    assert "String 1 in 3-D: 3 meshes" in said.err
    assert re.search(r"So far 3-D is known to \d+\.\d %: one mesh more, \d+ unknowns, about [0-9.]+ [GM]B and \d+ s",
                     said.err)
    assert "λ at rest" in said.out
    assert re.search(r"field at string +G .*\n +mT .*\ncoil field at 1 A +G/A .*\n +mT/A ", said.out)
    document: dict[str, Any] = document_of((out / "verify.json").read_text(encoding="utf-8"), "verify")
    for name, row in document["result"]["figures"].items():
        assert row["quick"] == pytest.approx(row["solid"], rel=_COARSE), name
        assert 0.0 <= row["solid_error"] < 0.1
    unknowns = [m["unknowns"] for m in document["result"]["meshes"]]
    assert unknowns == sorted(unknowns)
    assert sorted(p.name for p in out.iterdir()) == document["files"]
    with (out / "verify.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert float(rows[3]["quick model"]) == pytest.approx(document["result"]["figures"]["linkage"]["quick"], rel=1e-5)


@pytest.mark.parametrize(("name", "needs"), [("bench-single", "3[0-4]0 MB"), ("stacked-six", "(3[5-9]|4[01])0 MB")])
def test_refusal_before_anything_is_solved(name: str, needs: str, capsys: pytest.CaptureFixture[str],
                                           monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(verify_needs, "resident", lambda: 0.0)  # whatever other tests have left in memory
    with pytest.raises(CaseError, match=f"needs about {needs} and --memory allows 100 MB"):
        run(VerifyOptions(which=name, quality="draft", memory="100MB"), COARSE)
    said = capsys.readouterr().err
    assert "fast chain" not in said
    assert "with string" not in said


@pytest.mark.parametrize(("options", "words"), [
    (["--string", "2"], "strings 1 to 1"),
    (["--memory", "much"], "write for example 4GB"),
    (["--within", "0%"], "a percentage"),
    (["--quality", "finest"], "draft, normal, fine"),
])
def test_impossible_options(options: list[str], words: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["verify", "bench-single", *options]) == 2
    assert words in capsys.readouterr().err


def test_which_string() -> None:
    """The first plain one; a wound one by its core alone."""
    case = load_case("baritone-six", {})
    materials = case_materials(case)
    plain, wound = (verify._subject(case, n, materials) for n in (None, 1))
    assert (plain.number, plain.core_only) == (5, False)
    assert (wound.number, wound.core_only, wound.shape.wrap_diameter) == (1, True, 0.0)
    assert "core alone" in verify._notes(case, wound, counted=False)[0]
    assert "alone over the pickup here, both ways" in verify._notes(case, plain, counted=True)[0]
    with pytest.raises(CaseError, match="strings 1 to 6"):
        verify._subject(case, 7, materials)


def test_symmetry_of_coils_and_bodies() -> None:
    """A row is its own image in x = 0, its string off the middle keeps the other half; coils wound against each
    other are odd."""
    case = load_case("baritone-six", {})
    subject = verify._subject(case, None, case_materials(case))
    assert verify_coils.symmetry(subject.bodies, subject.shape.y, case.racetracks()) == (Symmetry(x=True), ())

    def coil(x: float, sense: int) -> Racetrack:
        return Racetrack(inner_radius=1e-3, straight=10e-3, build=1e-3, bottom=0.0, top=1e-3, turns=9.0, sense=sense,
                         x_centre=x)

    assert [verify_coils._coil_parity([coil(5e-3, 1), coil(-5e-3, s)], 0) for s in (1, -1)] == [1, -1]
    assert verify_coils._coil_parity([coil(5e-3, 1)], 0) == 0


def test_needs_count_the_unknowns(monkeypatch: pytest.MonkeyPatch) -> None:
    """Euler's formula against the edges themselves, and more memory for more of them, twice where two heights are
    computed at a time."""
    case = load_case("bench-single", {})
    subject = verify._subject(case, None, case_materials(case))
    mesh = verify._mesh(subject, 0.6, Symmetry(x=True, y=True))
    needs = verify_needs.needs_for(mesh)
    assert needs.unknowns == pytest.approx(solid_space(mesh).unknowns, rel=0.02)
    monkeypatch.setattr(verify_needs, "resident", lambda: 1e9)
    monkeypatch.setattr(verify_needs, "another_core", lambda: False)
    one = verify_needs.needs_for(mesh).memory - 1e9
    monkeypatch.setattr(verify_needs, "another_core", lambda: True)
    assert verify_needs.needs_for(mesh).memory - 1e9 == pytest.approx(2 * one)
    assert one > 3e3 * needs.unknowns
    assert verify_needs.read_memory("2 GiB") == 2.0**31
    free = verify_needs.free_memory()
    assert free is None or free > 1e7


def test_fields_are_compared_over_a_row_and_not_between_two() -> None:
    """The string of a pickup with two rows: at x of the row that its gap counts from, level there, fine over both."""
    case = load_case("side-by-side-six", {})
    subject = verify._subject(case, 4, case_materials(case))
    assert (subject.x, subject.below) == (9e-3, "the face of pole 4")
    assert subject.rod.fine == (-9e-3, 9e-3)
    assert subject.rod.z - subject.rod.radius == pytest.approx(1.6e-3 + 2.4e-3, abs=1e-9)
    blade = load_case("blade-six", {})
    over = verify._subject(blade, None, case_materials(blade))
    assert (over.x, over.below, over.rod.fine) == (0.0, 'the top of "blade"', (0.0,))
