"""`stringflux force` and `pickup.force()`: which bodies, lifted off what, and what is said of it."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from rigs.cases.envelope import document_of
from stringflux.cases import load_case, shipped_cases, solve
from stringflux.cases.cli import main
from stringflux.cases.commands.force import CAUTION, _print
from stringflux.cases.jobs.force import BodyForce
from stringflux.cases.pickup import Pickup
from stringflux.geometry.errors import CaseError

pytestmark = pytest.mark.usefixtures("shared_solutions")

Printed = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two screws on a short bar with a keeper under it, and a strip of brass."""
    text = shipped_cases()["bar-screws-six"].read_text(encoding="utf-8")
    head, first, _ = text.split("[[string]]\n", 2)
    head = head.replace("count = 6", "count = 2").replace('"62 mm"', '"20 mm"').replace('"64 mm"', '"22 mm"')
    head = head.replace('inner_length = "58 mm"', 'inner_length = "18 mm"').replace("turns = 8000", "turns = 6000")
    head = head.replace('\ntip = { shape = "domed", rise = "0.5 mm" }', "")  # flat ones are meshed faster
    head = head.replace("[strings]", '[[body]]\nshape = "box"\nname = "strip"\nmaterial = "brass"\nalong = "3 mm"\n'
                        'across = "22 mm"\nheight = "1 mm"\ntop = "-20 mm"\n\n[strings]')
    path = tmp_path_factory.mktemp("force") / "two.toml"
    path.write_text(f"{head}[[string]]\n{first}", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def pickup(file: Path) -> Pickup:
    return solve(load_case(str(file)), quality="draft")


@pytest.mark.slow
def test_a_keeper_is_held_the_less_the_farther_it_is(pickup: Pickup) -> None:
    near, far = (pickup.force("keeper", lift=gap) for gap in (0.1e-3, 1e-3))
    assert near.off == ("bar",)
    assert near.lifted.tolist() == [0.0, 0.0, -0.1e-3]
    assert (near.by, far.by) == ("stress", "charges")
    assert near.force[2] > 2 * far.force[2] > 0.5
    for found in (near, far):
        assert found.error < 0.05 * found.size
        assert np.linalg.norm(found.other - found.force) < 0.1 * found.size
        assert np.linalg.norm(found.force[:2]) < 0.02 * found.size
    assert not near.is_strong


@pytest.mark.slow
def test_all_parts_of_a_pole(pickup: Pickup) -> None:
    """A pole lifts up, and is drawn down to the bar."""
    pole = pickup.force("pole 1", lift=0.5e-3)
    assert pole.bodies == ("pole 1",)
    assert pole.lifted[2] == pytest.approx(0.5e-3)
    assert pole.force[2] < 0


@pytest.mark.parametrize(("names", "lift", "words"), [
    ((), 0.0, "it is missing; write the name of a body: pole 1, pole 2, bar, keeper"),
    (("kepper",), 0.0, "keeper"),
    (("strip",), 0.0, "not magnetic"),
    (("keeper",), 0.0, "touches bar"),
    (("keeper",), 1e-5, "write 0.05 mm to 50 mm"),
    (("bar",), 1e-3, "no straight way along x, y or z takes bar off pole 1, pole 2 and keeper"),
    (("bar", "keeper", "pole 1", "pole 2"), 0.0, "nothing else in this case is magnetic"),
])
def test_refused(pickup: Pickup, names: tuple[str, ...], lift: float, words: str) -> None:
    with pytest.raises(CaseError, match=words):
        pickup.force(*names, lift=lift)


def test_what_touches_nothing_is_not_lifted() -> None:
    pickup = solve(load_case("side-by-side-six"), quality="draft")
    with pytest.raises(CaseError, match="touches nothing magnetic"):
        pickup.force("bar", lift=1e-3)


@pytest.mark.slow
def test_document_and_table(file: Path, capsys: Printed) -> None:
    asked = ["force", str(file), "--body", "keeper", "--lift", "1mm", "--quality", "draft"]
    assert main([*asked, "--json"]) == 0
    found = document_of(capsys.readouterr().out, "force")
    assert found["result"]["size"] == pytest.approx(float(np.linalg.norm(found["result"]["force"])))
    assert found["units"]["force"] == found["units"]["error"] == "N"
    assert found["result"]["off"] == ["bar"]
    assert main(asked) == 0
    printed = capsys.readouterr().out
    assert "Lifted 1 mm off bar" in printed
    assert "magnetic charges" in printed
    assert CAUTION not in printed
    assert main(["force", str(file), "--body", "keeper", "--lift", "much"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_caution(file: Path, capsys: Printed) -> None:
    strong = BodyForce(bodies=("keeper",), lifted=np.zeros(3), off=(), force=np.array([0.0, 0.0, 30.0]), error=0.1,
                       by="charges", other=np.array([0.0, 0.0, 29.0]))
    _print(load_case(str(file)), strong)
    assert CAUTION.split(".")[0] in capsys.readouterr().out
