"""`stringflux flux`: in a body's section, through a disc, as JSON, and what it refuses."""

from __future__ import annotations

import pytest

from rigs.cases.envelope import document_of
from stringflux.cases import load_case, solve
from stringflux.cases.cli import main

pytestmark = pytest.mark.usefixtures("shared_solutions")

Printed = pytest.CaptureFixture[str]
BENCH = ["flux", "bench-single", "--quality", "draft"]


def test_in_a_pole_and_through_a_disc(capsys: Printed) -> None:
    """The flux in a magnet comes out over its face: less of it, the further up."""
    pickup = solve(load_case("bench-single"), quality="draft")
    found = pickup.flux_in("pole 1", at=-7e-3)
    assert found.flux > pickup.flux_in("pole 1", at=1e-3).flux > pickup.flux_through((0, 0, 5e-3), radius=2.4e-3).flux
    assert main([*BENCH, "--body", "pole 1", "--at", "-7mm"]) == 0
    printed = capsys.readouterr().out
    assert f"{1e6 * found.flux:+.4g}" in printed
    assert "Flux in pole 1 across z" in printed
    assert main([*BENCH, "--body", "pole 1", "--at", "-7mm", "--json"]) == 0
    said = document_of(capsys.readouterr().out, "flux")
    assert said["result"]["flux"] == pytest.approx(found.flux, rel=1e-8)
    assert said["result"]["mean"] == pytest.approx(found.flux / found.area, rel=1e-8)
    assert said["units"]["flux"] == "Wb"
    assert main([*BENCH, "--centre", "0,0,5mm", "--size", "4mm,6mm", "--json"]) == 0
    said = document_of(capsys.readouterr().out, "flux")
    assert said["result"]["section"]["size"] == [4e-3, 6e-3]
    assert said["result"]["area"] == pytest.approx(24e-6)


@pytest.mark.parametrize(("asked", "words"), [
    ([], "--body: write the name of a body"),
    (["--body", "pole 1", "--centre", "0,0,0"], "one of the two"),
    (["--body", "pole 2"], "write pole 1"),
    (["--body", "pole 1", "--at", "9mm"], "reaches from -15.5 mm to 1.5 mm along z"),
    (["--body", "pole 1", "--at", "low"], "write a length with units"),
    (["--body", "pole 1", "--radius", "1mm"], "leave them out"),
    (["--body", "pole 1", "--across", "up"], "--across"),
    (["--centre", "0,0,0"], "--radius: write it for a disc"),
    (["--centre", "0,0", "--radius", "1mm"], "write 3 lengths"),
    (["--centre", "0,0,0", "--radius", "1mm", "--at", "1mm"], "leave it out"),
])
def test_refused(asked: list[str], words: str, capsys: Printed) -> None:
    assert main([*BENCH, *asked]) == 2
    said = capsys.readouterr().err
    assert words in said
    assert said.count("\n") == 1
