"""Source archive and wheel: built without a warning, complete, and the wheel runs where it is unpacked."""

from __future__ import annotations

import email.parser
import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from importlib.metadata import version
from pathlib import Path

import pytest

from rigs.source_tree import ROOT, TOP, sources

FOLDERS = (*TOP, ".ci", "docs", "tests", "tools")
FILES = ("*.md", "pyproject.toml", "constraints.txt", "LICENSE", "MANIFEST.in", "Makefile", ".gitignore",
         ".pre-commit-config.yaml", "__*__.py", "py.typed")
BUILD = "import sys; from setuptools import build_meta as b; to = sys.argv[1]; b.build_sdist(to); b.build_wheel(to)"


@pytest.fixture(scope="module")
def archives(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with both archives, the copy they were made of, and in ``said`` what the builder printed."""
    place = tmp_path_factory.mktemp("archives")
    copy = place / "copy"
    copy.mkdir()
    for folder in FOLDERS:
        shutil.copytree(ROOT / folder, copy / folder, symlinks=True,
                        ignore=shutil.ignore_patterns("__pycache__", ".*_cache", ".hypothesis"))
    for path in {path for pattern in FILES for path in ROOT.glob(pattern)}:
        shutil.copy(path, copy)
    expected = sorted(path.relative_to(copy).as_posix() for path in copy.rglob("*") if path.is_file())
    (place / "expected").write_text("\n".join(expected), encoding="utf-8")
    environment = {key: text for key, text in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"}
    done = subprocess.run([sys.executable, "-W", "default", "-c", BUILD, str(place)], cwd=copy, env=environment,
                          capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    (place / "said").write_text(done.stdout + done.stderr, encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def unpacked(archives: Path) -> Path:
    """The wheel's content, as pip lays it down."""
    (wheel,) = archives.glob("*.whl")
    with zipfile.ZipFile(wheel) as file:
        file.extractall(archives / "wheel")
    return archives / "wheel"


def test_building_warns_of_nothing(archives: Path) -> None:
    said = (archives / "said").read_text(encoding="utf-8")
    assert [line for line in said.splitlines() if "warning" in line.lower() or "deprecat" in line.lower()] == []


def test_source_archive_is_complete(archives: Path) -> None:
    """All but the links for type checkers, which tools/setup.sh makes."""
    (archive,) = archives.glob("*.tar.gz")
    with tarfile.open(archive) as file:
        inside = {name.partition("/")[2] for name in file.getnames()}
    expected = (archives / "expected").read_text(encoding="utf-8").splitlines()
    assert [path for path in expected if path not in inside and not path.startswith("tests/_ns/")] == []


def test_wheel_holds_the_program_and_nothing_else(archives: Path) -> None:
    (wheel,) = archives.glob("*.whl")
    names = {name for name in zipfile.ZipFile(wheel).namelist() if ".dist-info/" not in name}
    ours = {f"stringflux/{path.as_posix()}" for path in sources()}
    ours |= {f"stringflux/{name}" for name in ("__init__.py", "__main__.py", "py.typed")}
    data = {path.relative_to(ROOT).as_posix() for top in TOP for path in (ROOT / top).rglob("*")
            if path.suffix in (".toml", ".csv", ".html", ".css", ".js", ".svg", ".ts", ".txt")}
    assert names == ours | {f"stringflux/{path}" for path in data}
    assert [name for name in names if "bench_" in name] == []


def test_metadata(unpacked: Path) -> None:
    (path,) = unpacked.glob("*.dist-info/METADATA")
    about = email.parser.Parser().parsestr(path.read_text(encoding="utf-8"))
    assert about["Name"] == "stringflux"
    assert about["License-Expression"] == "GPL-3.0-or-later"
    assert about["Author"] == "The stringflux developers"
    assert "Typing :: Typed" in about.get_all("Classifier", [])
    assert "# stringflux" in str(about.get_payload())


@pytest.mark.parametrize(("words", "prints"), [
    (("-c", "import stringflux as s; print(s.__version__, s.__file__)"), "{version} {folder}/stringflux"),
    (("-m", "stringflux", "--version"), "stringflux {version}"),
    (("-m", "stringflux", "-h"), "Usage: stringflux "),
    (("-m", "stringflux", "materials", "-h"), "Usage: stringflux materials "),
    (("-m", "stringflux", "cases"), "baritone-six"),
    (("-m", "stringflux", "schema"), "bridge_distance"),
    (("-c", "from stringflux.cases.files import load as x; print(x.shipped_readings())"),
     "/baritone-six-readings.csv"),
])
def test_wheel_runs_where_it_is_unpacked(unpacked: Path, tmp_path: Path, words: tuple[str, ...], prints: str) -> None:
    done = subprocess.run([sys.executable, *words], cwd=tmp_path, capture_output=True, text=True, check=False,
                          env={**os.environ, "PYTHONPATH": str(unpacked), "PYTHONIOENCODING": "utf-8"})
    assert done.returncode == 0, done.stderr
    assert prints.format(version=version("stringflux"), folder=unpacked) in done.stdout
