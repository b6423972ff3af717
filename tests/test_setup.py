"""tools/setup.sh and make demo on machines that lack something: one sentence, and the old environment stays."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from rigs.source_tree import ROOT

# An interpreter that has all libraries, or none; its environments hold a pip that installs one script, or fails.
PYTHON = """\
#!/usr/bin/env bash
case "$1 $2 $3" in
"- "*) [ -z "$LIBRARIES_MISSING" ] || for pair in "${@:2}"; do echo "${pair%%=*}"; done ;;
"-m venv"*)
    mkdir -p "$3/bin"
    cp "$0" "$3/bin/python"
    echo "command = python -m venv $PWD/$3" >"$3/pyvenv.cfg" ;;
"-m pip download") [ -z "$NO_NETWORK" ] ;;
"-m pip install")
    [ -z "$PIP_FAILS" ] || { echo "ERROR: no wheel of that" >&2; exit 1; }
    where=$(dirname "$0")
    printf '#!%s/%s/python\\n' "$PWD" "$where" >"$where/stringflux" ;;
*) ;;
esac
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of what setup needs, with the old environment in it, and commands of a person who may not install."""
    place = tmp_path / "a clone"
    (place / "tools").mkdir(parents=True)
    shutil.copy(ROOT / "tools/setup.sh", place / "tools")
    (place / ".venv").mkdir()
    (place / ".venv/old").touch()
    for name, text in {"python3": PYTHON, "id": "#!/bin/sh\necho 1000\n", "sudo": "#!/bin/sh\nexit 1\n"}.items():
        path = tmp_path / "bin" / name
        path.parent.mkdir(exist_ok=True)
        path.write_text(text, encoding="utf-8")
        path.chmod(0o755)
    return place


def setup(folder: Path, goal: str = "run", **environment: str) -> subprocess.CompletedProcess[str]:
    commands = folder.parent / "bin"
    path = f"{commands}:{os.environ['PATH']}"
    return subprocess.run(
        ["bash", "tools/setup.sh", goal], cwd=folder, capture_output=True, text=True, check=False,
        env={**os.environ, "PATH": path, "PYTHON": str(commands / "python3"), **environment},
    )


def left(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def test_new_environment_takes_the_old_ones_place(folder: Path) -> None:
    done = setup(folder)
    assert done.returncode == 0, done.stderr
    assert left(folder) == [".venv", "tools"]
    assert (folder / ".venv/.run").read_text().strip() == str(folder)
    assert not (folder / ".venv/old").exists()
    assert (folder / ".venv/bin/stringflux").read_text() == f"#!{folder}/.venv/bin/python\n"
    assert ".venv.new" not in (folder / ".venv/pyvenv.cfg").read_text()


@pytest.mark.parametrize(("fault", "says"), [
    ({"NO_NETWORK": "1"}, r"\Astop: Python packages cannot be fetched: no network, .*\n\Z"),
    ({"PIP_FAILS": "1"}, r"\AERROR: no wheel of that\nstop: stringflux could not be installed; .*\n\Z"),
])
def test_old_environment_stays_when_the_new_one_fails(folder: Path, fault: dict[str, str], says: str) -> None:
    done = setup(folder, **fault)
    assert done.returncode == 1
    assert re.search(says, done.stderr), done.stderr
    assert left(folder) == [".venv", "tools"]
    assert (folder / ".venv/old").exists()


def test_environment_is_found_again_between_two_renames(folder: Path) -> None:
    (folder / ".venv").rename(folder / ".venv.old")
    assert setup(folder, NO_NETWORK="1").returncode == 1
    assert (folder / ".venv/old").exists()


def test_without_network_pip_itself_gives_one_sentence(folder: Path) -> None:
    """A real environment and a real pip, whose index is a port where nothing listens."""
    cut_off = {"PIP_INDEX_URL": "http://127.0.0.1:9/simple", "PIP_EXTRA_INDEX_URL": "", "PIP_FIND_LINKS": "",
               "PIP_CONFIG_FILE": os.devnull}
    done = setup(folder, PYTHON=sys.executable, **cut_off)
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert line.startswith("stop: Python packages cannot be fetched: no network")
    assert len(done.stdout.splitlines()) == 1
    assert left(folder) == [".venv", "tools"]


def test_one_line_installs_all_that_is_missing(folder: Path) -> None:
    done = setup(folder, LIBRARIES_MISSING="1")
    assert done.returncode == 1
    (line,) = re.findall(r"^ *sudo apt-get update && sudo apt-get install -y (.*)$", done.stderr, re.MULTILINE)
    script = (ROOT / "tools/setup.sh").read_text(encoding="utf-8")
    libraries = set(re.findall(r"(\S+?)=lib\S+\.so", script))
    assert "libegl1" in libraries
    if os.uname().machine != "x86_64":
        libraries.remove("libquadmath0")
    assert set(line.split()) == libraries


def test_without_network_apt_gives_one_sentence(folder: Path) -> None:
    apt = folder.parent / "bin/apt-get"
    apt.write_text("#!/bin/sh\necho \"Err:1 Temporary failure resolving 'server'\"\nexit 100\n", encoding="utf-8")
    apt.chmod(0o755)
    (folder.parent / "bin/id").write_text("#!/bin/sh\necho 0\n", encoding="utf-8")
    done = setup(folder, LIBRARIES_MISSING="1")
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert line.startswith("stop: the system's packages cannot be fetched: no network")
    assert "libegl1" in line


def test_demo_takes_a_name_with_blanks(tmp_path: Path) -> None:
    """With an environment whose command prints what it was called with."""
    for name in ("Makefile", "pyproject.toml", "constraints.txt", "tools"):
        (shutil.copytree if (ROOT / name).is_dir() else shutil.copy)(ROOT / name, tmp_path / name)
    command = tmp_path / ".venv/bin/stringflux"
    command.parent.mkdir(parents=True)
    command.write_text("#!/bin/sh\nfor word; do echo \"<$word>\"; done\n", encoding="utf-8")
    command.chmod(0o755)
    (tmp_path / ".venv/.run").write_text(str(tmp_path), encoding="utf-8")
    done = subprocess.run(
        ["make", "demo", "CASE=my cases/it's mine.toml"], cwd=tmp_path, capture_output=True, text=True, check=True,
        env={key: text for key, text in os.environ.items() if "MAKE" not in key},
    )
    assert "<predict>\n<my cases/it's mine.toml>\n<--out>\n<results/it's mine>\n" in done.stdout
    assert "  stringflux start my-pickup.toml" in done.stdout


def test_newcomers_learn_first_whether_the_program_works() -> None:
    """`make test` runs the tests before the style checks."""
    done = subprocess.run(["make", "-n", "test"], cwd=ROOT, capture_output=True, text=True, check=True,
                          env={key: text for key, text in os.environ.items() if "MAKE" not in key})
    assert 0 < done.stdout.index("-m pytest") < done.stdout.index("ruff check")


def test_fresh_machines_say_why_they_were_not_built(folder: Path) -> None:
    path = f"{folder.parent / 'bin'}{os.pathsep}{os.environ['PATH']}"  # there id says 1000
    done = subprocess.run(["bash", ROOT / "tools/fresh.sh"], capture_output=True, text=True, check=False,
                          env={**os.environ, "PATH": path})
    assert (done.returncode, done.stdout) == (3, "make fresh was not run: it needs root, for chroot\n")


def test_constraints_pin_every_requirement() -> None:
    """One version each, and one that pyproject.toml allows."""
    lines = [line for line in (ROOT / "constraints.txt").read_text(encoding="utf-8").splitlines() if line[:1] != "#"]
    pins = {canonicalize_name(name): version for name, version in (line.split("==") for line in lines)}
    assert len(pins) == len(lines)
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    wanted = [*project["project"]["dependencies"], *project["build-system"]["requires"]]
    wanted += [line for extra in project["project"]["optional-dependencies"].values() for line in extra]
    for requirement in map(Requirement, wanted):
        assert requirement.specifier.contains(pins[canonicalize_name(requirement.name)]), requirement
