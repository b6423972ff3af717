"""A whole case is checked where it is read, and the record itself knows no check."""

from __future__ import annotations

import pytest

from rigs.cases.case_data import FULL, USES, changed
from stringflux.geometry import Case, CaseError, read_case
from stringflux.geometry.reading.check_case import check_case

SUNK = {"string.0.height": "-20 mm"}  # into its pole


def test_reading_checks_and_the_record_does_not() -> None:
    case = Case.model_validate(changed(SUNK))
    with pytest.raises(CaseError, match="string 1, height: the string's underside at") as direct:
        check_case(case, USES)
    with pytest.raises(CaseError) as read:
        read_case(changed(SUNK), materials=USES)
    assert str(read.value) == str(direct.value)


def test_names_are_taken_on_trust_without_a_list() -> None:
    case = Case.model_validate(FULL)
    check_case(case)
    with pytest.raises(CaseError, match="no known material"):
        check_case(case, {})


def test_the_first_fault_is_told() -> None:
    both = changed({**SUNK, "pole.0.part.0.material": "nothing"})
    with pytest.raises(CaseError, match="pole 1, part 1, material"):
        check_case(Case.model_validate(both), USES)
