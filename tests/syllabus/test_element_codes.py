"""Element codes of the certification standards."""

from syllabus.element_codes import ElementCode, parse_element_code
from syllabus.reading import read_course
from tests.course_files import changed, line_of


def test_a_code_falls_into_its_parts():
    # FAA-S-ACS-6C, coding of elements
    assert parse_element_code("PA.II.A.K3d") == ElementCode("PA", "II", "A", "K", 3, "d")
    assert parse_element_code("PH.II.D.S2") == ElementCode("PH", "II", "D", "S", 2, "")


def test_a_code_of_the_school_has_no_parts():
    assert parse_element_code("oil-watch") is None


def test_an_archived_code_is_refused_for_new_grades():
    # FAA-S-ACS-6C archives PA.IV.A.S10
    _, faults = read_course(changed("tasks/ground.toml", "PH.II.D.S2", "PA.IV.A.S10"))
    assert [(fault.line, fault.words) for fault in faults] == [
        (
            line_of("tasks/ground.toml", "PH.II.D.S2"),
            "`PA.IV.A.S10` is archived in its standard: nothing new is graded on it.",
        )
    ]
