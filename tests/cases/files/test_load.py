"""Finding and reading case files; the shipped ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from rigs.cases.strings_at_rest import gaps
from stringflux.cases.files.load import TEMPLATE, built_in_uses, find_case, load_case, read_toml, shipped_cases
from stringflux.cases.files.text import LARGEST_FILE
from stringflux.geometry import DENSITIES, CaseError
from stringflux.geometry.case.placed_strings import placed_strings
from stringflux.solver.materials import find_material, material_from_definition

FULL = Path(__file__).parents[2] / "full_case.toml"
BUILD = FULL.with_name("full_build.toml")


def test_shipped_names() -> None:
    rows = {"bench-single", "baritone-six", "bass-four", "lap-steel-eight"}
    builds = {"side-by-side-six", "stacked-six", "blade-six", "bar-screws-six", "shaped-blade-six", "chisel-tip"}
    assert set(shipped_cases()) == rows | builds
    assert {name for name in shipped_cases() if load_case(name).is_plain_row} == rows


@pytest.mark.parametrize("name", [*shipped_cases(), TEMPLATE, FULL, BUILD], ids=str)
def test_case_gives_shapes(name: str | Path) -> None:
    case = load_case(name)
    poles, strings = case.placed_poles(), [s.shape for s in placed_strings(case)]
    assert len(poles) == len(case.row.places())
    assert len(strings) == len(case.string)
    assert case.racetrack().turns >= 1
    assert case.title
    assert min(gaps(case)) > 1e-3
    assert len(case.racetracks()) == len(case.coil_names())
    assert len(case.solid_bodies()) >= len(poles) + len(case.body)


@pytest.mark.parametrize("name", shipped_cases())
def test_shipped_strings_are_playable(name: str) -> None:
    # strings of all these instruments are pulled to some 40 to 250 N (9 to 56 lb)
    assert all(40 < s.tension < 250 for s in placed_strings(load_case(name)))


def test_template_mentions_every_key() -> None:
    text = TEMPLATE.read_text(encoding="utf-8")
    for line in (FULL.read_text(encoding="utf-8") + BUILD.read_text(encoding="utf-8")).splitlines():
        key = line.split(" = ")[0]
        if " = " in line and key not in ("resistivity", "density", "centre"):
            assert f"{key} = " in text, key


def test_own_materials_can_be_built() -> None:
    for name, own in load_case(FULL).materials.items():
        assert material_from_definition(name, own).name == name


def test_densities_are_those_of_the_material_table() -> None:
    for name, density in DENSITIES.items():
        assert getattr(find_material(name), "density") == density  # noqa: B009
        assert built_in_uses()[name] == "string"


def test_changes() -> None:
    case = load_case("baritone-six", {"coil.turns": 6500, "string.2.gap": "3 mm"})
    assert case.coil.turns == 6500
    assert case.string[1].gap == pytest.approx(3e-3)
    assert load_case("bench-single", {"pole.1.part.1.charge": 0.8}).pole[0].part[0].charge == 0.8
    assert load_case("bench-single", {"materials.soft": {"kind": "constant permeability", "permeability": 5}})


@pytest.mark.parametrize(
    ("dotted", "says"),
    [
        ("string.9.gap", '"9" where a number from 1 to 6 belongs'),
        ("string.x.gap", '"x" where a number from 1 to 6 belongs'),
        ("title.x", "which has no keys"),
        ("title.x.y", "which has no keys"),
        ("coil.turn", '"turn" is not a key here'),
        ("row.face.1.x", "which has no keys"),
    ],
)
def test_changes_that_lead_nowhere(dotted: str, says: str) -> None:
    with pytest.raises(CaseError, match=says):
        load_case("baritone-six", {dotted: 1})


@pytest.mark.parametrize(
    ("which", "says"),
    [
        ("baritone-sixx", "did you mean baritone-six"),
        ("nowhere/bass-for.toml", "did you mean bass-four"),
        ("zzz", "the shipped cases are bar-screws-six, baritone-six"),
        ("a\0b", "neither a file nor a shipped case"),
        ("x" * 5000, "cannot be read: File name too long"),
        ("", "is a folder"),
    ],
)
def test_no_such_case(which: str, says: str) -> None:
    with pytest.raises(CaseError, match=says):
        load_case(which)


def test_folder(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="is a folder; name a case file in it"):
        find_case(tmp_path)


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b'title = "x"\n[row\n', r"c\.toml, line 2 reads `\[row`; the head of a table stands in brackets, write"),
        (b"title = ", r"line 1 reads `title =`; nothing stands after =; write a value, or drop title"),
        (b'title = "x"\ntitle = "y"\n', r'line 2 reads `title = "y"`; title is there already, in line 1; keep one'),
        (b"title = '''\n", r"the TOML is broken: "),
        (b'title = "a\xff"', r"c\.toml, line 1: this is not UTF-8 text"),
        (b"\n\xff\xfe", r"c\.toml, line 2: this is not UTF-8 text"),
        (b"#" * (LARGEST_FILE + 1), r"c\.toml is larger than 1000 kB"),
        (b"x = " + b"9" * 5000, r"far too long for a case"),
        (b"x = " + b"[" * 100_000, r"c\.toml"),
        (b"", r"c\.toml: coil: it is missing; add it"),
        (b"\x00", r"line 1 reads ` `; the TOML is broken"),
    ],
)
def test_file_that_is_no_case(tmp_path: Path, raw: bytes, says: str) -> None:
    path = tmp_path / "c.toml"
    path.write_bytes(raw)
    with pytest.raises(CaseError, match=says) as caught:
        load_case(path)
    assert "\n" not in str(caught.value)


def test_byte_order_mark_is_fine(tmp_path: Path) -> None:
    path = tmp_path / "c.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FULL.read_bytes())
    assert load_case(path) == load_case(FULL)


def test_unreadable(tmp_path: Path) -> None:
    with pytest.raises(CaseError, match="cannot be read: No such file"):
        read_toml(tmp_path / "gone.toml")
