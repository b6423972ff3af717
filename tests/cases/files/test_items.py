"""Items of lists of tables, taken out of a person's own text, or written once more."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from rigs.live import EVERY, SHIPPED, remarks, scene_of, tried
from stringflux.cases.files.items import with_copy, without_item
from stringflux.cases.live.hand.design import Edit, edited, read_design
from stringflux.geometry.errors import CaseError

TEXT = """# the head

# the first
[[pole]]
at = [1]  # one

# under the first
[[pole.part]]
length = "1 mm"

# the second
[[pole]]  # itself
at = [2]
# of nobody

# [load]
# cable = 1
"""


def case(name: str) -> str:
    return next(f for f in SHIPPED if f.stem == name).read_text(encoding="utf-8")


def test_taken_out() -> None:
    """The item goes with its own lines; what stands over and under it stays."""
    made = without_item(TEXT, "pole.2")
    assert tomllib.loads(made) == {"pole": [{"at": [1], "part": [{"length": "1 mm"}]}]}
    assert remarks(made) == [r for r in remarks(TEXT) if r != "# itself"]
    made = without_item(TEXT, "pole.1")
    assert tomllib.loads(made) == {"pole": [{"at": [2]}]}
    assert "# the head\n\n# the first\n" in made


def test_once_more() -> None:
    """The copy stands right behind, remarks in lines of their own are said once, and taken out it leaves no trace."""
    made = with_copy(TEXT, "pole.1")
    assert [p["at"] for p in tomllib.loads(made)["pole"]] == [[1], [1], [2]]
    assert made.count("# under the first") == 1
    assert without_item(made, "pole.2") == TEXT


@pytest.mark.parametrize("path", ["pole.3", "pole.0", "pole.x", "nothing.1", "pole.1.part.2", "pole.1.at.1.1"])
@pytest.mark.parametrize("change", [with_copy, without_item])
def test_no_such_item(path: str, change: object) -> None:
    with pytest.raises(CaseError, match="there is no"):
        change(TEXT, path)  # type: ignore[operator]


@pytest.mark.parametrize("file", EVERY, ids=lambda f: f.stem)
def test_every_item(file: Path) -> None:
    """Copied and taken out again is the text as it was; what cannot be is a sentence."""
    text = file.read_text(encoding="utf-8")
    done = 0
    for path in (t["path"] for t in scene_of(text)["tables"] if t["many"]):
        place, _, number = path.rpartition(".")
        made, said = tried(text, Edit(act="copy", path=path))
        assert "\n" not in said
        if made is not None:
            done += 1
            assert [r for r in remarks(text) if r not in remarks(made)] == []
            if not place.endswith("pole"):  # poles alike were divided: `test_pole_of_its_own`
                back = edited(made, [Edit(act="remove", path=f"{place}.{int(number) + 1}")])
                assert back == text.rstrip("\n") + "\n"
        made, said = tried(text, Edit(act="remove", path=path))
        assert "\n" not in said
        if made is not None:
            done += 1
            gone = [r for r in text.splitlines() if r.lstrip().startswith("#") and r not in made.splitlines()]
            assert gone == []
    assert done or file.stem == "bench-single"


def test_pole_of_its_own() -> None:
    """One pole more is the last of those alike, made one of its own."""
    made = read_design(edited(case("baritone-six"), [Edit(act="copy", path="pole.1")]))
    assert [p.at for p in made.pole] == [(1, 2, 3, 4, 5), (6,)]
    rest = read_design(edited(case("lap-steel-eight"), [Edit(act="copy", path="pole.2")]))
    assert sorted(n for p in rest.pole for n in p.at) == list(range(1, 9))
    with pytest.raises(CaseError, match="raise count"):
        edited(case("bench-single"), [Edit(act="copy", path="pole.1")])


def test_body_beside() -> None:
    """Another body has a name of its own and shares no room with the first."""
    made = read_design(edited(case("side-by-side-six"), [Edit(act="copy", path="body.1")]))
    assert [b.name for b in made.body] == ["bar", "bar 2"]
    assert made.body[0].centre != made.body[1].centre


def test_part_without_a_second_tip() -> None:
    made = read_design(edited(case("bass-four"), [Edit(act="copy", path="pole.1.part.1")]))
    assert [p.tip.shape for p in made.pole[0].part] == ["domed", "flat", "flat"]
