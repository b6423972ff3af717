"""What is varied: lists, ranges and samples, how they combine, study files, and the sentences for what is wrong."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from stringflux.cases.files.load import built_in_uses, find_case, load_case, read_toml
from stringflux.cases.studies.compare.command import CompareOptions, comparison, read_vary
from stringflux.cases.studies.compare.fields import find_field
from stringflux.cases.studies.compare.plan import Plan, Tasks
from stringflux.cases.studies.compare.study_file import read_study_file
from stringflux.cases.studies.compare.variations import Variation, variation
from stringflux.geometry.case.model import Case
from stringflux.geometry.errors import CaseError
from stringflux.geometry.reading.read import read_case


@cache
def loaded(name: str = "bench-single") -> tuple[dict[str, Any], Case]:
    return read_toml(find_case(name)), load_case(name)


def vary(text: str, name: str = "bench-single") -> Variation:
    field, given = read_vary(text)
    return variation(find_field(field, *loaded(name)), given)


def plan(*texts: str, **options: Any) -> Plan:
    return Plan(variations=tuple(vary(text) for text in texts), **options)


def texts(made: Plan) -> list[tuple[str, ...]]:
    return [tuple(value.text for value in row) for row in made]


@pytest.mark.parametrize(
    ("text", "values", "si"),
    [
        ("strings.gap=1.5mm:3.5mm:5", "1.5 mm|2 mm|2.5 mm|3 mm|3.5 mm", [1.5e-3, 2e-3, 2.5e-3, 3e-3, 3.5e-3]),
        ("strings.gap=3mm:2mm:3", "3 mm|2.5 mm|2 mm", [3e-3, 2.5e-3, 2e-3]),
        ("strings.gap=0.05in:0.1in:3", "0.05 in|0.075 in|0.1 in", [1.27e-3, 1.905e-3, 2.54e-3]),
        ("strings.gap=0.05in:2mm:3", "1.27 mm|1.635 mm|2 mm", [1.27e-3, 1.635e-3, 2e-3]),  # in the usual unit
        ("coil.bottom=-12mm:-8 mm:3", "-12 mm|-10 mm|-8 mm", [-12e-3, -10e-3, -8e-3]),
        ("coil.turns=4000:6000:3", "4000|5000|6000", [4000, 5000, 6000]),
        ("strings.last_fret=20:24:3", "20|22|24", [20, 22, 24]),
        ('string.gauge=0.010", 1/64 in', '0.010"|1/64 in', [0.254e-3, 0.396875e-3]),
        ("string.1.pitch=A2,110.5 Hz", "A2|110.5 Hz", [110.0, 110.5]),
        ("pole.part.material=alnico-3, alnico-5", "alnico-3|alnico-5", ["alnico-3", "alnico-5"]),
        ("coil.wire=42 AWG,0.063 mm", "42 AWG|0.063 mm", ["42 AWG", "0.063 mm"]),
        ('pole.part.tip={shape="domed",rise="0.5mm"},{shape="flat"}', "domed rise 0.5mm|flat",
         ["domed rise 0.5mm", "flat"]),
    ],
)
def test_values(text: str, values: str, si: list[float | str]) -> None:
    made = vary(text)
    found = [made.at(i) for i in range(made.count)]
    assert [value.text for value in found] == values.split("|")
    assert [value.si for value in found] == (pytest.approx(si, rel=1e-12) if isinstance(si[0], float | int) else si)
    assert made.numeric == (not isinstance(si[0], str))


def test_a_grid_has_every_combination_once() -> None:
    made = plan("pole.part.material=alnico-3,alnico-5", "coil.turns=4000,5000,6000")
    assert texts(made) == [(m, t) for m in ("alnico-3", "alnico-5") for t in ("4000", "5000", "6000")]
    assert len(made) == 6


def test_pairs_go_together() -> None:
    made = plan("strings.gap=2mm:3mm:3", "coil.turns=6000,5000,4000", combine="paired")
    assert texts(made) == [("2 mm", "6000"), ("2.5 mm", "5000"), ("3 mm", "4000")]


def test_a_sample_fills_the_ranges_evenly_and_the_same_every_time() -> None:
    given = ("strings.gap=1.5mm:3.5mm", "coil.turns=4000:8000",
             "pole.part.material=alnico-2,alnico-3,alnico-5,alnico-8")
    made = plan(*given, combine="sample", samples=64)
    rows = [[value.si for value in row] for row in made]
    assert rows == [[value.si for value in row] for row in plan(*given, combine="sample", samples=64)]
    assert rows != [[value.si for value in row] for row in plan(*given, combine="sample", samples=64, seed=2)]
    assert all(1.5e-3 <= gap <= 3.5e-3 and 4000 <= turns <= 8000 for gap, turns, _ in rows)
    # a (0, m, 2) net: each of 64 equal strips of every axis holds one point, and every quarter of a list a quarter
    # (within the thousandth of a range that values are rounded to)
    parts = np.sort((np.array([gap for gap, _, _ in rows]) - 1.5e-3) / 2e-3)
    assert (np.abs(parts - (np.arange(64) + 0.5) / 64) <= 0.5 / 64 + 0.5e-3).all()
    assert {text for row in texts(made) for text in row[:2] if len(text) > len("2.345 mm")} == set()
    names = [name for _, _, name in rows]
    assert [names.count(name) for name in dict.fromkeys(names)] == [16] * 4
    # fewer are the first of them
    assert [[v.si for v in row] for row in plan(*given, combine="sample", samples=50)] == rows[:50]


def test_a_range_with_steps_is_sampled_at_its_steps() -> None:
    rows = texts(plan("strings.gap=2mm:3mm:3", "coil.turns=4000:8000", combine="sample", samples=16))
    assert {gap for gap, _ in rows} == {"2 mm", "2.5 mm", "3 mm"}


def test_very_many_designs_are_counted_not_built() -> None:
    made = plan("coil.turns=1:100000:100000", "strings.gap=1mm:3mm:999999", "coil.bottom=-12mm:-8mm:999")
    assert len(made) == 100_000 * 999_999 * 999
    last = made[len(made) - 1]
    assert [value.si for value in last] == pytest.approx([100_000, 3e-3, -8e-3])


def test_a_task_is_a_complete_case() -> None:
    document = loaded("baritone-six")[0]
    made = Tasks(document=document, quality="draft", want=("balance",), plan=Plan(variations=(
        vary("pole.part.material=alnico-3,alnico-5", "baritone-six"), vary("row.face.2=2mm,3mm", "baritone-six"))))
    assert [task.number for task in made] == [0, 1, 2, 3]
    read = [read_case(task.document, materials=built_in_uses()) for task in made]
    assert [c.row.face[1] for c in read] == [2e-3, 3e-3, 2e-3, 3e-3]
    assert [c.pole[0].part[0].material for c in read] == ["alnico-3", "alnico-3", "alnico-5", "alnico-5"]
    assert {c.row.face[0] for c in read} == {1.5e-3}
    assert document == read_toml(find_case("baritone-six"))  # the base stays as it is
    assert (made[0].quality, made[0].want) == ("draft", ("balance",))


@pytest.mark.parametrize(
    ("given", "options", "words"),
    [
        ([], {}, "nothing is varied"),
        (["strings.gap"], {}, "write FIELD=VALUE,VALUE"),
        (["strings.gap="], {}, "write FIELD=VALUE,VALUE"),
        (["strings.gap=2mm:2mm:3"], {}, "which is empty"),
        (["strings.gap=2mm:0.2cm:1"], {}, "which is empty"),
        (["strings.gap=2mm:3mm:0"], {}, "write a whole number from 2 on"),
        (["strings.gap=2mm:3mm:1"], {}, "write a whole number from 2 on"),
        (["strings.gap=2mm:3mm:2.5"], {}, "write a whole number from 2 on"),
        (["strings.gap=2mm:3mm:-4"], {}, "write a whole number from 2 on"),
        (["strings.gap=2mm:3mm:4:5"], {}, "write FROM:TO:N"),
        (["strings.gap=2mm::4"], {}, "write FROM:TO:N"),
        (["strings.gap=2mm:3mm"], {}, "the range says no number of values"),
        (["strings.gap=2:3:4"], {}, 'received "2", which has no unit'),
        (["strings.gap=2mm:3kg:4"], {}, 'received "3kg", which is not a length'),
        (["strings.gap=0.1mm:3mm:4"], {}, "write a length from 0.2 mm to 15 mm"),
        (["strings.gap=2mm,,3mm"], {}, "an empty place in the list"),
        (["strings.gap=2mm,0.2cm"], {}, "which are the same"),
        (["row.count=1:3:9"], {}, "only 3 whole numbers"),
        (["coil.turns=4k"], {}, "write a number without a unit"),
        (["coil.turn=4000"], {}, "did you mean coil.turns"),
        (["string.gap=2mm", "string.1.gap=3mm"], {}, "the same place of the file as string.gap"),
        (["row.face=2mm", "row.face.1=3mm"], {}, "the same place of the file as row.face"),
        (["strings.gap=2mm,3mm", "coil.turns=4000:6000:3"], {"combine": "paired"}, "strings.gap 2, coil.turns 3"),
        (["strings.gap=2mm:3mm"], {"combine": "sample", "samples": 0}, "write how many designs"),
        (["strings.gap=2mm,3mm"], {"combine": "sample", "samples": 3}, "only 2 designs in all"),
    ],
)
def test_what_cannot_be_varied(given: list[str], options: dict[str, Any], words: str) -> None:
    with pytest.raises(CaseError) as refused:
        plan(*given, **options)
    assert words in str(refused.value)
    assert "\n" not in str(refused.value)


STUDY = """
rank = ["output", "pull"]
want = "inductance"
combine = "grid"

[vary]
strings.gap = "1.5 mm:3.5 mm:3"
"pole.part.material" = ["alnico-3", "alnico-5"]
coil.turns = 5000
"""


def test_a_study_file_says_what_the_options_say(tmp_path: Path) -> None:
    path = tmp_path / "study.toml"
    path.write_text(STUDY, encoding="utf-8")
    by_file = comparison(CompareOptions(which="bench-single", study=str(path)))
    by_hand = comparison(CompareOptions(which="bench-single",
        vary=["strings.gap=1.5 mm:3.5 mm:3", "pole.part.material=alnico-3,alnico-5", "coil.turns=5000"],
        rank=["output,pull"], want=["inductance"]))
    assert list(by_file.plan) == list(by_hand.plan)
    assert list(by_file.tasks) == list(by_hand.tasks)
    assert by_file.ranks == by_hand.ranks
    # the command line goes before the file, field by field
    both = comparison(CompareOptions(which="bench-single", study=str(path), vary=["strings.gap=2mm,3mm"],
                                     rank=["balance"]))
    assert len(both.plan) == 4
    assert [rank.column for rank in both.ranks] == ["balance"]
    # a quoted sample, paired on the command line
    path.write_text('sample = 8\nseed = 3\nvary = {"strings.gap" = "1.5 mm:3.5 mm"}\n', encoding="utf-8")
    drawn = comparison(CompareOptions(which="bench-single", study=str(path)))
    assert (drawn.plan.combine, len(drawn.plan), drawn.plan.seed) == ("sample", 8, 3)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("rank = 'output'", "vary: it is missing"),
        ("vary = 3", "study.toml, vary: received 3; write a table"),
        ("vary = {}\ncombin = 'grid'", '(did you mean "combine"?)'),
        ("vary = {}\ncombine = 'square'", '"grid", "paired" or "sample"'),
        ("vary = {}\ncombine = 'sample'", "sample: it is missing"),
        ("vary = {}\ncombine = 'grid'\nsample = 3", "keep one of them"),
        ("vary = {}\nsample = 0", "study.toml, sample: received 0"),
        ("vary = {}\nrank = 3", "study.toml, rank: received 3"),
        ("vary = {}", "nothing is varied"),
        ("[vary]\nstrings.gap = []", "strings.gap: received an empty list"),
        ("[vary]\nstrings.gap = 2", "strings.gap: received the bare number 2"),
        ("[vary]\nstrings.gaps = '2 mm'", "did you mean strings.gap"),
        ("vary = {", "the TOML is broken"),
    ],
)
def test_study_files_that_are_wrong(tmp_path: Path, text: str, words: str) -> None:
    path = tmp_path / "study.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(CaseError) as refused:
        comparison(CompareOptions(which="bench-single", study=str(path)))
    assert words in str(refused.value)


@pytest.mark.parametrize("name", ["nowhere.toml", "a\0b", "."])
def test_study_files_that_are_not_there(name: str) -> None:
    with pytest.raises(CaseError, match="which is no file"):
        read_study_file(name)


def test_the_seed_belongs_to_a_sample() -> None:
    with pytest.raises(CaseError, match="--seed"):
        comparison(CompareOptions(which="bench-single", vary=["coil.turns=1,2"], seed=3))
    with pytest.raises(CaseError, match="--paired"):
        comparison(CompareOptions(which="bench-single", vary=["coil.turns=1,2"], sample=3, paired=True))
    drawn = comparison(CompareOptions(which="bench-single", vary=["coil.turns=1000:2000"], sample=8))
    assert math.log2(len(drawn.plan)) == 3
