"""What check warns of though it is allowed, and a course that was renamed."""

from __future__ import annotations

import pytest

from trainkit_grading.course import doubts
from trainkit_grading.course.roster import Apprentice, Roster
from trainkit_grading.release.check import check
from trainkit_grading.reports.status import status

from .makers import MODULE, Bench, edited, module_toml, refused, set_to


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("bob", "b0b"),
        ("lena", "1ena"),
        ("lena", "Iena"),
        ("amir", "\u0430mir"),
        ("peter", "\u0440\u0435\u0442\u0435r"),
        ("nina", "nin\u03b1"),
        ("marnie", "mamie"),
        ("a.shah", "ashah"),
    ],
)
def test_identifiers_that_look_alike(one: str, other: str) -> None:
    (told,) = doubts.of_people(Roster((Apprentice(one, "Ann"), Apprentice("carla", "Bo"), Apprentice(other, "Cy"))))
    assert (told.severity, told.place) == ("warning", "roster.csv")
    assert one in told.text
    assert other in told.text
    assert "look alike" in told.text


def test_many_honest_identifiers_are_not_doubted() -> None:
    people = [Apprentice(f"{number}", f"Person {number}") for number in range(1000, 3000)]
    people += [Apprentice(name, name) for name in ("ali", "all", "ana", "anna", "jan", "jana", "さくら", "олена")]
    assert list(doubts.of_people(Roster(tuple(people)))) == []


def test_check_tells_of_what_is_hardly_meant(bench: Bench) -> None:
    """Names, identifiers and fractions where per cents are meant, all as warnings."""
    bench.course.roster_file.write_text(
        "apprentice,name,extra_percent\namir,Amir Shah,0.25\nb0,Amir  SHAH,25\nbo,Bo,\n\u0430mir,Cy,0\n", "utf-8"
    )
    bench.write_module(module_toml().replace("cut_score = 60", "cut_score = 0.6"))
    course = set_to(bench.course, percent_a_day="0.1", at_most_percent="0.5")
    outcome = check(course.folder)
    assert outcome.ok, outcome.findings
    told = [f"{finding.place}: {finding.text}" for finding in outcome.findings if finding.severity == "warning"]
    for says in (
        "2 people are called Amir Shah: amir and b0.",
        "b0 and bo look alike",
        "amir and \u0430mir (Cyrillic and Latin) look alike",
        "extra_percent = 0.25 is 0.25 per cent. If 25 per cent is meant, write 25.",
        "percent_a_day = 0.1 is 0.1 per cent. If 10 per cent is meant, write 10.",
        "at_most_percent = 0.5 is 0.5 per cent. If 50 per cent is meant, write 50.",
        "cut_score = 0.6 is 0.6 per cent. If 60 per cent is meant, write 60.",
    ):
        assert any(says in text for text in told), (says, told)


def test_a_course_that_was_renamed_after_release(assigned: Bench) -> None:
    """Codes and forms hang on the name: check and status say so, with the name to put back."""
    course = edited(assigned.course, ('name = "saltmere"', 'name = "saltmere-2"'))
    for outcome in (check(course.folder), status(course)):
        told = refused(outcome)
        assert told.count("saltmere-2") == 1
        assert f"{MODULE} was given out when it was called 'saltmere'" in told
        assert 'Write name = "saltmere" in course.toml again.' in told
    back = edited(course, ('name = "saltmere-2"', 'name = "saltmere"'))
    assert status(back).ok


def test_before_release_a_course_may_be_renamed(bench: Bench) -> None:
    course = edited(bench.course, ('name = "saltmere"', 'name = "saltmere-2"'))
    assert status(course).ok
    assert "was given out when" not in str(check(course.folder).findings)
