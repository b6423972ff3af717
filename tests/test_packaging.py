"""The project as files: what is installed, who imports whom, and what a start of the command loads."""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tomllib
from importlib import import_module
from importlib.metadata import entry_points, version
from pathlib import Path

import pytest

from rigs.source_tree import ROOT, TOP, packages, sources
from stringflux.geometry.kernel.session import APT_LINE

# Layers: what each package may import of ours besides itself.
MAY_IMPORT: dict[str, set[str]] = {
    "geometry": set(),
    "solver": {"geometry"},
    "postprocess": {"geometry", "solver"},
    "cases": {"geometry", "solver", "postprocess"},
}
# None of these may be loaded for `stringflux --help`, which has to answer at once.
HEAVY = {"gmsh", "matplotlib", "meshio", "pint", "pydantic", "pyvista", "scipy", "scipy.optimize", "scipy.sparse",
         "skfem", "vtk"}
NUMERICS = {"gmsh", "matplotlib", "meshio", "numpy", "pyvista", "scipy", "skfem"}  # nor for that of a command
MOST_LINES = 400  # 300 is the aim; an idea is never torn apart to count lines
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
each_source = pytest.mark.parametrize("path", sources(), ids=str)


def read(path: Path) -> str:
    return (ROOT / path).read_text(encoding="utf-8")


def layer_faults(path: Path, source: str) -> list[str]:
    """What in a file's imports breaks the layers; a path relative to the root."""
    home, depth = path.parts[0], len(path.parts) - 1
    faults = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom) and node.level > depth:
            faults.append(f"line {node.lineno}: a relative import leaves {home}")
        if isinstance(node, ast.ImportFrom) and node.level == 0:
            names = [f"{node.module}.{alias.name}" for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        else:
            continue
        for name in names:
            first, *inner = name.split(".")
            if first in TOP:
                faults.append(f"line {node.lineno}: {name} lacks its stringflux.")
            elif first == "stringflux" and inner[0] == home:
                faults.append(f"line {node.lineno}: {name} should be a relative import")
            elif first == "stringflux" and inner[0] not in MAY_IMPORT[home]:
                faults.append(f"line {node.lineno}: {home} may not import {name}")
            elif first == "stringflux" and any(part.startswith("_") for part in inner):
                faults.append(f"line {node.lineno}: {name} is private to {inner[0]}")
    return faults


def test_installed_packages_are_the_folders() -> None:
    assert sorted(PROJECT["tool"]["setuptools"]["packages"]) == sorted(["stringflux", *packages()])


def test_every_data_file_is_installed() -> None:
    globs = PROJECT["tool"]["setuptools"]["package-data"]
    for package in packages():
        folder = ROOT.joinpath(*package.split(".")[1:])
        patterns = globs.get(package, [])
        for path in folder.iterdir():
            if path.is_file() and path.suffix not in (".py", ".pyc"):
                assert any(path.match(pattern) for pattern in patterns), path


def test_type_checkers_find_every_package() -> None:
    links = {path.name: path.resolve() for path in (ROOT / "tests/_ns/stringflux").iterdir()}
    assert links == {name: ROOT / name for name in (*TOP, "__init__.py", "__main__.py", "py.typed")}
    assert (ROOT / "py.typed").is_file()


def test_version_and_command() -> None:
    assert version("stringflux") == PROJECT["project"]["version"]
    newest = re.search(r"^## (\S+)", read(Path("CHANGELOG.md")), re.MULTILINE)
    assert newest is not None
    assert newest[1] == PROJECT["project"]["version"]
    (command,) = entry_points(group="console_scripts", name="stringflux")
    assert callable(command.load())


def test_make_installs_what_the_error_message_says() -> None:
    named = set(re.findall(r"(\S+?)=lib\S+\.so", read(Path("tools/setup.sh"))))
    assert named - {"libegl1", "libquadmath0"} == set(APT_LINE.split("install -y ")[1].split())


@each_source
def test_layers(path: Path) -> None:
    assert layer_faults(path, read(path)) == []


@pytest.mark.parametrize(
    ("path", "line"),
    [
        ("geometry/x.py", "from stringflux.solver import y"),
        ("geometry/x.py", "from stringflux import solver"),
        ("solver/x.py", "import stringflux.postprocess.y"),
        ("solver/x.py", "from stringflux.solver import y"),
        ("solver/x.py", "from ..geometry import y"),
        ("solver/materials/x.py", "from ...geometry import y"),
        ("cases/x.py", "from geometry import y"),
        ("cases/x.py", "from stringflux.geometry._y import z"),
        ("postprocess/x.py", "def f():\n    from stringflux.cases import y"),
    ],
)
def test_broken_layers_are_seen(path: str, line: str) -> None:
    assert len(layer_faults(Path(path), line)) == 1


@each_source
def test_one_idea_per_file(path: Path) -> None:
    source = read(path)
    assert len(source.splitlines()) <= MOST_LINES
    docstring = ast.get_docstring(ast.parse(source)) or ""
    assert len(docstring.split()) >= 3, "the first lines should say what the file is for"


def test_no_name_has_two_meanings() -> None:
    """A class is told by its name alone, wherever it is met."""
    homes: dict[str, list[str]] = {}
    for path in sources():
        for node in ast.parse(read(path)).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                homes.setdefault(node.name, []).append(str(path))
    del homes["ConstantPermeability"]  # a case file's table, and the material that is made of it
    assert {name: paths for name, paths in homes.items() if len(paths) > 1} == {}


def test_nothing_is_left_for_later() -> None:
    left = re.compile(r"\b(TO" + r"DO|FIX" + r"ME)\b")
    texts = [path for path in ROOT.glob("*") if path.suffix in (".md", ".toml") or path.name == "Makefile"]
    folders = [ROOT / folder for folder in (*TOP, "tests", "tools")]
    for kind in ("py", "toml", "sh"):
        texts += [path for folder in folders for path in folder.rglob(f"*.{kind}")]
    assert [path.name for path in texts if left.search(path.read_text(encoding="utf-8"))] == []


@pytest.mark.parametrize("package", packages())
def test_exported_names_exist(package: str) -> None:
    module = import_module(package)
    names = list(getattr(module, "__all__", ()))
    assert len(names) == len(set(names))
    assert [name for name in names if not hasattr(module, name)] == []


def test_help_of_every_command_loads_no_numerics() -> None:
    """Each command is asked in turn; whoever is the first to load something is named with it."""
    program = ("import contextlib, io, sys\n"
               "from stringflux.cases.cli import COMMANDS, main\n"
               f"numerics, before = {NUMERICS}, set()\n"
               "for name in COMMANDS:\n"
               "    with contextlib.redirect_stdout(io.StringIO()) as said, contextlib.suppress(SystemExit):\n"
               "        main([name, '--help'])\n"
               "    assert f'stringflux {name}' in said.getvalue(), name\n"
               "    for library in sorted(numerics & set(sys.modules) - before):\n"
               "        print(f'{name} loads {library}')\n"
               "    before |= set(sys.modules)\n")
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""


@pytest.mark.parametrize(("words", "needed", "prints"), [
    (("--help",), set(), "predict"),
    # a case is read and a cell of two wires solved, for the winding's capacitance
    (("wind", "bench-single"), {"pint", "pydantic", "scipy", "scipy.optimize", "scipy.sparse", "skfem"},
     "5000 of 42 AWG"),
])
def test_loads_nothing_heavy(words: tuple[str, ...], needed: set[str], prints: str) -> None:
    program = (
        "import sys\n"
        "from stringflux.cases.cli import main\n"
        f"sys.argv = ['stringflux', *{words!r}]\n"
        "try:\n    code = main()\n"
        "except SystemExit as stop:\n    code = stop.code\n"
        "assert not code, code\n"
        "print('loaded:', *sorted({'.'.join(name.split('.')[:k]) for name in sys.modules for k in (1, 2)}))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
    )
    assert done.returncode == 0, done.stderr
    assert prints in done.stdout
    loaded = set(done.stdout.rpartition("loaded:")[2].split())
    assert loaded & (HEAVY - needed) == set()
