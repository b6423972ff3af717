"""What every command says of every shipped case, kept and held against later: no number changes when walls move.

    python tests/run.py record_outputs keep DIR             each document into a file of DIR, outside the repository
    python tests/run.py record_outputs compare DIR          computes all anew and prints what is different
    … --only pull --only baritone-six                   of these commands and cases alone

At draft, studies small, one document a file; what depends on the hour, the machine or the version is left out. Equal
means equal to the last digit printed. Exit code 1 if anything differs. It takes some 20 minutes of two processors.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from stringflux.cases.files.load import load_case, shipped_cases, shipped_mixes

DRAFT = ("--quality", "draft", "--json")
PASSING = ("date", "versions", "platform", "timings", "seconds", "folder")
READINGS = "baritone-six-readings.csv"


def commands() -> Iterator[tuple[str, ...]]:
    """Every command on every case that it takes."""
    for case in shipped_cases():
        row = load_case(case).is_plain_row
        for name in ("predict", "impedance", "hum", "pull", "signal"):
            yield (name, case, *DRAFT)
        yield ("signal", case, "--loaded", *DRAFT)
        yield ("wind", case, "--for", "6 kohm", "--json") if row else ("wind", case, "--json")
        yield ("compare", case, "--vary", "strings.gap=2.4mm,2.6mm", "--rank", "output", *DRAFT)
        yield ("balance", case, "--by", "tilt", *DRAFT)
        yield ("tolerance", case, "--check", "4", "--count", "256", *DRAFT)
        if row:
            yield ("design", case, "--want", "resistance=5kohm", "--vary", "coil.wire=42AWG,43AWG", "--rank",
                   "output", *DRAFT)
            yield ("shape", case, "--form", "dome", "--for", "output", *DRAFT)
    yield ("readings", "baritone-six", READINGS, "--fit", "turns", *DRAFT)
    yield ("verify", "bench-single", *DRAFT)
    for mix in shipped_mixes():
        yield ("mix", mix, *DRAFT)


def said(words: Sequence[str]) -> Any:
    """The document of a command, or its sentence, less what passes."""
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run([sys.executable, "-m", "stringflux.cases", *words], capture_output=True, text=True,
                              check=False, cwd=folder, env={**os.environ, "STRINGFLUX_CACHE": "off"})
    return _lasting(json.loads(done.stdout)) if done.returncode == 0 else {
        "exit": done.returncode, "said": done.stderr.strip().splitlines()[-1:]}


def _lasting(value: Any) -> Any:
    if isinstance(value, dict):
        return {k: _lasting(v) for k, v in value.items() if k not in PASSING}
    return [_lasting(v) for v in value] if isinstance(value, list) else value


def differences(one: Any, other: Any, place: str = "") -> Iterator[str]:
    """Places at which two documents differ, with both values."""
    if isinstance(one, dict) and isinstance(other, dict):
        for key in dict.fromkeys((*one, *other)):
            if key not in one or key not in other:
                yield f"{place}.{key}: only {'before' if key in one else 'now'}"
            else:
                yield from differences(one[key], other[key], f"{place}.{key}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for i, (a, b) in enumerate(zip(one, other, strict=True), start=1):
            yield from differences(a, b, f"{place}.{i}")
    elif one != other:
        yield f"{place}: {str(one)[:60]} before, {str(other)[:60]} now"


def _file(words: Sequence[str]) -> str:
    options = [w for w in words if w not in DRAFT]
    return "".join(c if c.isalnum() or c in "-." else "_" for c in " ".join(options)) + ".json"


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description="Keep what every command says, or compare with what was kept.")
    parser.add_argument("what", choices=["keep", "compare", "list"])
    parser.add_argument("folder", nargs="?", type=Path)
    parser.add_argument("--only", action="append", default=[])
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args(arguments)
    names = {words[0] for words in commands()}
    kinds = [set(asked.only) & names, set(asked.only) - names]
    wanted = [words for words in commands() if all(kind & set(words) for kind in kinds if kind)]
    if asked.what == "list":
        print("\n".join(" ".join(words) for words in wanted))
        return 0
    if asked.folder is None:
        parser.error("say which folder")
    asked.folder.mkdir(parents=True, exist_ok=True)
    changed = 0
    with ThreadPoolExecutor(asked.workers) as pool:
        for words, found in zip(wanted, pool.map(said, wanted), strict=True):
            path = asked.folder / _file(words)
            if asked.what == "keep":
                path.write_text(json.dumps(found, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
                print(f"kept: {' '.join(words)}" + (f" ({found['said']})" if "exit" in found else ""), flush=True)
                continue
            told = [f"not kept before: {path.name}"] if not path.is_file() else list(
                differences(json.loads(path.read_text(encoding="utf-8")), found))
            changed += bool(told)
            print(f"{'DIFFERENT' if told else 'the same'}: {' '.join(words)}", *told[:8], sep="\n    ", flush=True)
    print(f"{len(wanted)} documents" + (f", {changed} of them different" if asked.what == "compare" else " kept"))
    return int(changed > 0)


if __name__ == "__main__":
    sys.exit(main())
