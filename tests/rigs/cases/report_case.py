"""A case whose texts try to become part of the page, and what is found of it, for the tests of reports."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

from stringflux.cases import load_case, shipped_cases
from stringflux.cases.papers.report import CaseText, findings, motion, with_motion
from stringflux.cases.solving import solve
from stringflux.postprocess.report.chapters import report_of
from stringflux.postprocess.report.findings import Findings
from stringflux.postprocess.report.page import Report, ReportFigure
from stringflux.postprocess.report.pictures import pictures_at_rest, pictures_in_motion

TITLE = '<script>alert(1)</script> & "$\\frac{1}$"'
NOTE = "</p><img src=x onerror=alert(2)><style>body{display:none}</style>"


@lru_cache
def evil_findings() -> Findings:
    """The bench case with hostile title and note, coarse meshes."""
    lines = shipped_cases()["bench-single"].read_text(encoding="utf-8").splitlines()
    body = [line for line in lines if not line.startswith(("title", "note"))]
    with TemporaryDirectory() as folder:
        path = Path(folder) / "<b>case.toml"
        path.write_text("\n".join([f"title = '{TITLE}'", f"note = '{NOTE}'", *body]), encoding="utf-8")
        case = load_case(path)
        found = findings(solve(case, quality="draft"), CaseText(
            name=path.stem, text=path.read_text(encoding="utf-8"), changes={"coil.turns": "<i>5000</i>"}))
    return with_motion(found, motion(solve(case, quality="draft")))


@lru_cache
def evil_figures() -> dict[str, ReportFigure]:
    """The figures of it; they take seconds, so once."""
    return pictures_at_rest(evil_findings()) | pictures_in_motion(evil_findings())


def evil_report() -> Report:
    """The report of it."""
    return report_of(evil_findings(), evil_figures())


def six_strings() -> Findings:
    """The one string of the case six times, 1 dB apart, the third one loudest at equal force."""
    found = evil_findings()
    one = found.prediction.strings[0]
    strings = tuple(
        replace(one, number=n + 1, balance=-1.0 * n, balance_band=(-1.2 * n, -0.9 * n),
                balance_force=-2.0 * abs(n - 2), balance_displacement=-0.1 * n, sensitivity=0.1 * 10 ** (-n / 20))
        for n in range(6))
    return replace(found, prediction=replace(found.prediction, strings=strings))
