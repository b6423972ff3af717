"""The page for the bench has every pole and string, what a meter reads, and room to write."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import pytest

from rigs.cases.report_case import evil_findings, six_strings
from stringflux.geometry.case.threads import HeightScrews
from stringflux.postprocess.report.bench import bench_page
from stringflux.postprocess.report.findings import Findings
from stringflux.postprocess.report.page import Report, ReportTable, render


def tables(found: Findings) -> dict[str, ReportTable]:
    return {part.caption.split(",")[0]: part for part in bench_page(found).parts if isinstance(part, ReportTable)}


@pytest.mark.slow
def test_each_row_has_a_value_and_room_beside_it() -> None:
    found = six_strings()
    made = tables(found)
    assert len(made["Poles"].columns[0].cells) == len(found.prediction.poles)
    assert len(made["Strings"].columns[0].cells) == len(found.prediction.strings)
    for table in made.values():
        assert any(column.blank for column in table.columns)
        assert all(all(column.cells) for column in table.columns if not column.blank)
    read = dict(zip(*(made["At the terminals"].columns[i].cells for i in (0, 1)), strict=True))
    L = found.circuit.inductance_at([1e3]).real[0]
    (said,) = (value for what, value in read.items() if "kHz" in what and what.startswith("Inductance"))
    assert float(said.split()[0]) == pytest.approx(L, rel=1e-3)


def test_screws_are_told_where_the_case_says_them() -> None:
    found = evil_findings()
    assert len(bench_page(found).words) == 1
    screws = HeightScrews.model_validate({"thread": "M3", "apart": "70 mm", "clockwise": "raises"})
    told = replace(found, case=found.case.model_copy(update={"height_screws": screws}))
    assert bench_page(told).words[1] == (
        "Height screws: 0.125 mm in a quarter turn, clockwise raises that side of the pickup.")


def test_it_is_a_sheet_of_its_own() -> None:
    page = render(Report(title="t", summary="", sections=(bench_page(evil_findings()),)), datetime(2026, 1, 31))
    assert '<section id="bench" class="sheet"' in page
    assert page.count('<td class="blank"><span class="hidden">to fill in</span></td>') > 5
