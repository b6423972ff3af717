"""Thousands of spoilt case files at the loader: each one is read, or refused in one sentence.

Every key of `full_case.toml`, and of the bodies and coils of `full_build.toml`, is removed, renamed, negated, retyped
and filled with rubbish in turn; then hypothesis mixes such faults, and spoils the text itself.
"""

from __future__ import annotations

import copy
import json
import tomllib
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigs.cases.spoilt_cases import ONCE, RUBBISH, paths, spoil, toml
from stringflux.cases.files.load import built_in_uses, load_case
from stringflux.geometry import InputError
from stringflux.geometry.case.placed_strings import placed_strings

TEXT = (Path(__file__).parents[2] / "full_case.toml").read_text(encoding="utf-8")
FULL: dict[str, Any] = tomllib.loads(TEXT)
BUILD: dict[str, Any] = tomllib.loads(
    (Path(__file__).parents[2] / "full_build.toml").read_text(encoding="utf-8")
)
USES = built_in_uses()
FIFTH, MIXED, CUT = 5, 300, 150

PATHS = list(paths(FULL))
KEYS = [p for p in PATHS if isinstance(p[-1], str)]
BUILT = [p for p in paths(BUILD) if p[0] in ("body", "second_coil", "connection") or p[-1] in ("x", "name")]


def at_the_loader(path: Path, text: str) -> None:
    """Load the text; a success must give shapes, a refusal one line."""
    path.write_text(text, encoding="utf-8", errors="replace")
    try:
        case = load_case(path, materials=USES)
    except InputError as error:
        said = str(error)
    else:
        said = "fine"
        assert len(case.placed_poles()) == len(case.row.places())
        assert all(track.build > 0 for track in case.racetracks())
        assert len(case.solid_bodies()) >= len(case.body)
        assert all(shape.axis_height - shape.outer_radius > 0 for shape in (s.shape for s in placed_strings(case)))
        assert all(s.tension > 0 for s in placed_strings(case))
    assert said
    assert "\n" not in said
    assert len(said) < 1000


LINES = {key: toml(value) for key, value in FULL.items()}


def written(data: dict[str, Any]) -> str:
    """The case as TOML; tables that nothing has touched are not written anew."""
    return "".join(
        f"{json.dumps(k)} = {LINES[k] if FULL.get(k, data) == v else toml(v)}\n" for k, v in data.items()
    )


@pytest.fixture(scope="module")
def spoilt(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("spoilt") / "case.toml"


@pytest.mark.slow
@pytest.mark.parametrize("how", ONCE)
def test_every_place_spoilt_once(how: str, spoilt: Path) -> None:
    for path in PATHS:
        data = copy.deepcopy(FULL)
        spoil(data, path, how, "rubbish")
        at_the_loader(spoilt, written(data))


def test_every_key_filled_with_rubbish(spoilt: Path) -> None:
    for number, path in enumerate(KEYS):
        # another fifth of the rubbish for each key, so that all of it meets all kinds of keys
        for rubbish in RUBBISH[number % FIFTH :: FIFTH]:
            data = copy.deepcopy(FULL)
            spoil(data, path, "fill", rubbish)
            at_the_loader(spoilt, written(data))


@pytest.mark.parametrize("how", [*ONCE, "fill"])
def test_bodies_and_coils_spoilt(how: str, spoilt: Path) -> None:
    for number, path in enumerate(BUILT):
        data = copy.deepcopy(BUILD)
        spoil(data, path, how, RUBBISH[number % len(RUBBISH)])
        at_the_loader(spoilt, "".join(f"{json.dumps(k)} = {toml(v)}\n" for k, v in data.items()))


ANY = st.recursive(
    st.one_of(st.sampled_from([r for r in RUBBISH if not isinstance(r, list | dict)]), st.text(max_size=20)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=3),
        st.dictionaries(st.sampled_from(["shape", "kind", "gap", "x"]), inner, max_size=3),
    ),
    max_leaves=5,
)
FAULT = st.tuples(
    st.sampled_from(PATHS),
    st.sampled_from([*ONCE, "fill", "fill"]),
    ANY,
)
QUIET = settings(deadline=None, suppress_health_check=list(HealthCheck), database=None, derandomize=True)


@pytest.mark.slow
@settings(QUIET, max_examples=MIXED)
@given(faults=st.lists(FAULT, min_size=1, max_size=5))
def test_mixed_faults(faults: list[tuple[tuple[Any, ...], str, Any]], spoilt: Path) -> None:
    data = copy.deepcopy(FULL)
    for path, how, rubbish in faults:
        spoil(data, path, how, copy.deepcopy(rubbish))
    at_the_loader(spoilt, written(data))


@settings(QUIET, max_examples=CUT)
@given(
    start=st.integers(0, len(TEXT)),
    length=st.integers(0, 60),
    new=st.one_of(
        st.text(max_size=8), st.sampled_from(['"', "[", "]]", "\n[", "= ", "\r", "\x00", "#", "-", "e9"])
    ),
)
def test_spoilt_text(start: int, length: int, new: str, spoilt: Path) -> None:
    at_the_loader(spoilt, TEXT[:start] + new + TEXT[start + length :])


def test_the_writer_of_these_tests(spoilt: Path) -> None:
    spoilt.write_text(written(FULL), encoding="utf-8")
    case = load_case(spoilt, materials=USES)
    spoilt.write_text(TEXT, encoding="utf-8")
    assert case == load_case(spoilt, materials=USES)


def test_there_are_thousands() -> None:
    filled = len(KEYS) * (len(RUBBISH) // FIFTH)
    assert len(ONCE) * len(PATHS) + filled + MIXED + CUT >= 2000
