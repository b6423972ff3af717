"""Kept stages: the same numbers whatever was kept, and nothing solved twice."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import is_dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import Any

import pytest

from rigs.cases.small_case import task
from stringflux.cases.files.load import built_in_uses
from stringflux.cases.jobs.prediction import prediction_of
from stringflux.cases.kept.format import RECORDS, from_bytes, to_bytes
from stringflux.cases.kept.store import Store
from stringflux.cases.solved.numerics import Numerics
from stringflux.cases.solved.solve import solved_case
from stringflux.cases.solved.solve_row import forget_meshes
from stringflux.cases.studies.designs.evaluate import evaluate
from stringflux.cases.studies.engine.task import Task
from stringflux.geometry.mesh.pole import QUALITIES, Quality
from stringflux.geometry.reading.read import changed_case, read_case
from stringflux.postprocess.string.numerics import StringNumerics
from stringflux.solver.row.numerics import RowNumerics
from stringflux.solver.stages import Keep, made_anew

WANT = ("sensitivity", "inductance", "hum_area", "face_field")
PLAIN = task(want=WANT)
OTHERS = (
    task(want=WANT, pole__1__part__1__length="13 mm"),  # one pole
    task(want=WANT, pole__2__part__2__charge=0.8),  # the state of a magnet
    task(want=WANT, row__face=["1.5 mm", "1.3 mm"]),  # a height
    task(want=WANT, strings__gap="2.2 mm"),  # a gap
)


@pytest.fixture(autouse=True)
def nothing_remembered() -> Iterator[None]:
    forget_meshes()
    yield
    forget_meshes()


def values(design: Task, store: Store | None = None) -> dict[str, float]:
    outcome = evaluate(design, store)
    assert outcome.failure == ""
    return dict(outcome.values)


def forget_all_but(folder: Path, kinds: set[str], designs: tuple[Task, ...]) -> Store:
    """A store whose folder holds only some stages of the designs."""
    store = Store(folder, code="1")
    kept = store._from_folder  # type: ignore[attr-defined]

    def filtered(kind: str, *rest: Any) -> Any:
        return kept(kind, *rest) if kind in kinds else store._made(kind, rest[1])

    store._from_folder = filtered  # type: ignore[method-assign]
    for design in designs:
        values(design, store)
    return Store(folder, code="1")


@pytest.mark.slow
def test_the_same_numbers_whatever_was_kept(tmp_path: Path) -> None:
    designs = (PLAIN, OTHERS[0], OTHERS[3])
    cold = []
    for design in designs:  # each alone, nothing kept at all
        forget_meshes()
        cold.append(values(design))
    assert len({c["sensitivity"] for c in cold}) == len(cold)
    forget_meshes()
    store = Store(tmp_path / "a", code="1")
    assert [values(d, store) for d in designs] == cold  # filling memory and folder
    assert [values(d, store) for d in designs] == cold  # from memory
    forget_meshes()
    assert [values(d, Store(tmp_path / "a", code="1")) for d in designs] == cold  # from the folder
    forget_meshes()
    backwards = Store(tmp_path / "b", code="1")
    assert [values(d, backwards) for d in reversed(designs)] == cold[::-1]
    forget_meshes()
    assert [values(d) for d in reversed(designs[:2])] == cold[1::-1]  # only the last rows and meshes remembered


@pytest.mark.slow
def test_a_pole_from_the_folder_couples_like_one_just_solved(tmp_path: Path) -> None:
    designs = OTHERS[1:3]
    cold = [values(d) for d in designs]
    forget_meshes()
    half = forget_all_but(tmp_path, {"mesh", "bias"}, designs)
    forget_meshes()
    assert [values(d, half) for d in designs] == cold
    assert half.counts["bias", "read"] == 3  # and one of them twice, the second time from memory
    assert half.counts["bias", "made"] == 0
    assert half.counts["row", "made"] == 2


def test_a_study_over_gaps_and_turns_solves_each_pole_and_the_row_once(tmp_path: Path) -> None:
    store = Store(tmp_path, code="1")
    for gap in ("1.8 mm", "2.5 mm", "3.3 mm"):
        for turns in (4000, 5000):
            values(task(want=WANT, strings__gap=gap, coil__turns=turns), store)
    assert store.counts["bias", "made"] == 2  # two different poles
    assert store.counts["row", "made"] == 1
    assert store.counts["rest", "made"] == 6  # two strings, three gaps


def test_one_string_changed_computes_all(tmp_path: Path) -> None:
    """Each lies in the fields of the others."""
    store = Store(tmp_path, code="1")
    values(PLAIN, store)
    values(task(want=WANT, string__2__gauge="0.013 in"), store)
    assert store.counts["rest", "made"] == 4


def test_one_pole_changed_solves_one_pole(tmp_path: Path) -> None:
    values(PLAIN, Store(tmp_path, code="1"))
    store = Store(tmp_path, code="1")
    forget_meshes()
    values(OTHERS[0], store)
    assert store.counts["bias", "made"] == store.counts["mesh", "made"] == 1
    assert store.counts["bias", "read"] == 1


def test_another_state_of_a_magnet_solves_its_bias_and_nothing_else_of_it(tmp_path: Path) -> None:
    store = Store(tmp_path, code="1")
    values(PLAIN, store)
    before = store.counts.copy()
    values(task(want=WANT, pole__1__part__1__coercivity_scale=0.9), store)
    made = {kind for (kind, what), n in store.counts.items() if what == "made" and n > before[kind, what]}
    assert made == {"bias", "row", "solved row", "rest", "faces"}
    assert store.counts["bias", "made"] == before["bias", "made"] + 1


def test_another_height_solves_no_pole(tmp_path: Path) -> None:
    store = Store(tmp_path, code="1")
    values(PLAIN, store)
    before = store.counts.copy()
    values(task(want=WANT, row__face=["1.5 mm", "1.1 mm"], strings__gap="2.4 mm"), store)
    made = {kind for (kind, what), n in store.counts.items() if what == "made" and n > before[kind, what]}
    assert made == {"row", "solved row", "rest", "faces", "drive", "link"}


@pytest.mark.slow
def test_a_prediction_makes_strings_only_where_one_changed() -> None:
    """All of them then, for each lies in the fields of the others; to the last digit what it is with nothing kept."""
    store = Store(None, code="1")

    def made(changes: dict[str, Any], *, maps: bool = False, keep: Keep = store) -> tuple[int, list[float]]:
        before = store.counts["string", "made"]
        case = changed_case(read_case(PLAIN.document, materials=built_in_uses()), changes, materials=built_in_uses())
        found = prediction_of(solved_case(case, "draft", keep=keep), maps=maps)
        return store.counts["string", "made"] - before, [s.sensitivity for s in found.strings]

    count, first = made({})
    assert count == 2
    assert made({}) == (0, first)
    gap = {"string.1.gap": "2.2 mm"}
    count, closer = made(gap)
    assert count == 2
    assert closer[0] > first[0]
    assert closer[1] == pytest.approx(first[1], rel=1e-2)
    assert closer == made(gap, keep=made_anew)[1]
    assert store.counts["signal ends", "made"] == 1
    assert made({}, maps=True) == (0, first)  # maps alone
    for every in ({"coil.turns": 4000}, {"pole.2.part.2.charge": 0.8}, {"row.face": ["1.5 mm", "1.1 mm"]}):
        count, other = made(every)
        assert count == (0 if "coil.turns" in every else 2)  # what one turn hears is wound
        assert other == made(every, keep=made_anew)[1]
        assert other[0] != first[0]
        assert other[1] != first[1]


STAGES = {"mesh", "bias", "small signal", "rings", "table", "answer", "row", "solved row", "faces",
          "string", "signal ends", "signal end", "drive", "link"}
OTHER = Numerics(row=RowNumerics(orders=2, answer_orders=2, modes=1e-4, table_heights=0.3, tolerance=1e-3))


@pytest.mark.slow
@pytest.mark.parametrize(("numerics", "shared"), [
    (OTHER, {"mesh", "bias", "small signal", "signal end"}),
    (Numerics(string=StringNumerics(reach=40e-3)), {"mesh", "bias", "small signal", "signal end", "rings", "drive",
                                                 "link"}),
    (Numerics(mesh=Quality(divisions=2.0, growth=0.5, far=5.0)), set()),
    (Numerics(mesh=replace(QUALITIES["draft"], face=0.4e-3)), set()),
], ids=["row", "reach", "mesh", "face"])
def test_other_numerics_find_no_stage_of_the_shipped_ones(numerics: Numerics, shared: set[str],
                                                          tmp_path: Path) -> None:
    """To the last digit what they give with nothing kept, and something else than the shipped ones give."""
    case = read_case(PLAIN.document, materials=built_in_uses())

    def found(numerics: Numerics, keep: Keep) -> list[float]:
        forget_meshes()
        prediction = prediction_of(solved_case(case, "draft", keep=keep, numerics=numerics), maps=False)
        return [*(s.sensitivity for s in prediction.strings), *(p.field for p in prediction.poles),
                prediction.coil.inductance]

    store = Store(tmp_path, code="1")
    shipped = found(Numerics(), store)
    before = store.counts.copy()
    other = found(numerics, store)
    assert {kind for kind, what in store.counts - before if what == "made"} == STAGES - shared
    assert other == found(numerics, made_anew) != shipped
    assert found(Numerics(), store) == shipped


def test_what_goes_to_the_folder_is_small(tmp_path: Path) -> None:
    values(PLAIN, Store(tmp_path, code="1"))
    sizes = [p.stat().st_size for p in tmp_path.glob("??/*")]
    assert sum(sizes) < 5e6  # no factors, no kernels: those are tens of MB
    shutil.rmtree(tmp_path)


def test_every_kept_class_is_there() -> None:
    """A class that moved would be found out when its stage is read, by nobody."""
    for name, (module, held) in RECORDS.items():
        kind = getattr(import_module(module), name)
        assert kind.__module__ == module
        assert (held is None) == is_dataclass(kind)


def test_factors_do_not_go_to_a_disk() -> None:
    from stringflux.cases.solved.materials import case_materials
    from stringflux.cases.solved.solve_row import row_inputs, solve_inputs

    case = read_case(PLAIN.document, materials=built_in_uses())
    row = solve_inputs(row_inputs(case, "draft", case_materials(case)))
    cells = row.cells[row.places[0].shape]
    assert cells.tangent.lu is not None
    read = from_bytes(to_bytes(cells.tangent))
    assert read.lu is None
    assert cells.bias.run(read).lu is not None
