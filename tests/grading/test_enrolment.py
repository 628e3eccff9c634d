"""Lists of people from elsewhere, taken into the roster."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit_grading.course import enrolment, people_csv
from trainkit_grading.course import roster as rosters
from trainkit_grading.course.enrolment import enrol
from trainkit_grading.course.folder import Course
from trainkit_grading.course.roster import Apprentice
from trainkit_grading.errors import CourseError, RosterError
from trainkit_grading.support.outcome import Outcome

from .makers import Bench, Run, tree
from .test_cohorts import with_cohorts

TODAY = datetime(2027, 3, 1, 9, tzinfo=UTC)
OLD = "apprentice,name,locker\n# the people of this year\namir,Amir Shah,7\no'brien,Niamh O’Brien,8\n"


@pytest.fixture
def course(bench: Bench) -> Course:
    made = with_cohorts(bench.course)
    made.roster_file.write_text(OLD, "utf-8")
    return made


def take(course: Course, text: str | bytes, cohort: str = "", **how: bool) -> Outcome:
    path = course.folder.parent / "list.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return enrol(course, path, cohort, clock=lambda: TODAY, **how)


def people(course: Course) -> dict[str, Apprentice]:
    roster = course.roster()
    assert roster.findings == ()
    return {person.id: person for person in roster}


@pytest.mark.parametrize(
    ("header", "line", "expected"),
    [
        ("Name", "Ada Quillbeam", ("ada", "Ada Quillbeam")),
        ("Full name,Student ID", "Ada Quillbeam,10442", ("10442", "Ada Quillbeam")),
        ("First name,Last name,E-mail", "Ada,Quillbeam,A.Quillbeam@saltmere.example", ("a.quillbeam", "Ada Quillbeam")),
        ("SURNAME,Given Name,LOGIN", "Quillbeam,Ada,adaq", ("adaq", "Ada Quillbeam")),
        ("Name", '"Quillbeam, Ada"', ("ada", "Ada Quillbeam")),
        ("Vorname,Nachname", "Ada,Quillbeam", ("ada", "Ada Quillbeam")),
        ("No.,Display name,User name", "1,Ada Quillbeam,adaq", ("adaq", "Ada Quillbeam")),
        ("Name", "山本 さくら", ("山本", "山本 さくら")),
        ("Name", "Amir Rastermoor", ("amir.rastermoor", "Amir Rastermoor")),
    ],
)
@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_common_columns_in_what_spreadsheets_save(
    course: Course, header: str, line: str, expected: tuple[str, str], delimiter: str
) -> None:
    quoted = '"' in line
    text = f"{header}\r\n{line}\r\n" if quoted else f"{header}\r\n{line}\r\n".replace(",", delimiter)
    outcome = take(course, b"\xef\xbb\xbf" + text.encode())
    assert outcome.ok
    assert outcome.data["new"] == [expected[0]]
    assert people(course)[expected[0]].name == expected[1]


def test_new_changed_unchanged_and_missing_and_nothing_is_lost(course: Course) -> None:
    outcome = take(course, "Login,Name,Group,Extra time\namir,Amir Shah,Autumn intake,25\nzoe,Zoë Skellow,spring,\n")
    assert outcome.ok
    assert {name: outcome.data[name] for name in ("new", "changed", "unchanged", "missing")} == {
        "new": ["zoe"],
        "changed": ["amir"],
        "unchanged": [],
        "missing": ["o'brien"],
    }
    assert course.roster_file.read_text("utf-8") == (
        "apprentice,name,locker,cohort,extra_percent\n# the people of this year\n"
        "amir,Amir Shah,7,autumn,25\no'brien,Niamh O’Brien,8\nzoe,Zoë Skellow,,spring,\n"
    )
    assert people(course)["amir"] == Apprentice("amir", "Amir Shah", "autumn", extra_percent=25.0)
    told = " ".join(finding.text for finding in outcome.findings)
    assert "Not on the list: Niamh O’Brien" in told
    assert "--leavers" in told
    # Once more: nothing is new, and no byte changes.
    before = course.roster_file.read_bytes()
    again = take(course, "Login,Name,Group,Extra time\namir,Amir Shah,Autumn intake,25\nzoe,Zoë Skellow,spring,\n")
    assert (again.data["new"], again.data["changed"], again.data["written"]) == ([], [], False)
    assert course.roster_file.read_bytes() == before


def test_leavers_are_marked_and_stay(course: Course) -> None:
    outcome = take(course, "Name\nAmir Shah\n", leavers=True)
    assert outcome.ok
    assert outcome.data["unchanged"] == ["amir"]
    assert people(course)["o'brien"].left == date(2027, 3, 1)
    # They are not told of again; and whoever is back on the list is a question for a person.
    assert take(course, "Name\nAmir Shah\n", leavers=True).data["missing"] == []
    back = take(course, "Name\nNiamh O’Brien\nAmir Shah\n")
    assert "left 2027-03-01" in back.findings[0].text
    assert people(course)["o'brien"].left == date(2027, 3, 1)


def test_with_a_cohort_only_its_own_people_can_be_missing(course: Course) -> None:
    assert take(course, "Name\nAmir Shah\n", "autumn").data["missing"] == []
    assert people(course)["amir"].cohort == "autumn"
    outcome = take(course, "Name\nZoë Skellow\n", "autumn", leavers=True)
    assert outcome.data["missing"] == ["amir"]
    assert people(course)["o'brien"].left is None
    with pytest.raises(CourseError, match="autumn, spring"):
        take(course, "Name\nA B\n", "winter")


def test_a_dry_run_changes_nothing(course: Course) -> None:
    before = tree(course.folder)
    outcome = take(course, "Name\nZoë Skellow\n", leavers=True, dry_run=True)
    assert outcome.data["new"] == ["zoë"]
    assert "Nothing was written." in outcome.done[-1]
    assert {path: data for path, data in tree(course.folder).items() if "lock" not in path} == {
        path: data for path, data in before.items() if "lock" not in path
    }


def test_windows_1252_is_read_with_a_word_about_it(course: Course) -> None:
    outcome = take(course, "Name;E-Mail\r\nSøren Dählström;s.d@saltmere.example\r\n".encode("cp1252"))
    assert outcome.ok
    assert people(course)["s.d"].name == "Søren Dählström"
    assert "Windows-1252" in outcome.findings[0].text
    assert take(course, "Name\nЮрий Тарн\n".encode("utf-16")).data["new"] == ["юрий"]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"PK\x03\x04rest", "CSV UTF-8"),
        (b"Colour,Size\nred,5\n", "First name and Last name"),
        (b"", "First name and Last name"),
        (b"Name\n\x81\x8d\n", "CSV UTF-8"),
    ],
)
def test_what_is_no_list_is_refused_as_a_whole(course: Course, content: bytes, says: str) -> None:
    before = course.roster_file.read_bytes()
    with pytest.raises(RosterError, match=says):
        take(course, content)
    assert course.roster_file.read_bytes() == before


def test_each_wrong_line_costs_only_itself(course: Course) -> None:
    lines = {
        2: "=1+1,eve",
        3: "Bo Tarnwick,+boo",
        4: ",nobody",
        5: "Turned \u202egnorw,turned",
        6: "Slash,a/b",
        7: "Twin Tarnwick,zoe",
    }
    text = "\n".join(["Name,Login", *lines.values(), "Zoë Skellow,zoe", "Zoë Skellow,ZOE"])
    outcome = take(course, text)
    assert not outcome.ok
    assert outcome.data["new"] == ["zoe"]
    assert people(course)["zoe"].name == "Twin Tarnwick"
    places = [finding.place for finding in outcome.findings if finding.severity == "refused"]
    assert sorted(places) == sorted(f"list.csv line {number}" for number in (2, 3, 4, 5, 6, 8, 9))
    assert "=1" not in course.roster_file.read_text("utf-8")
    # What an export has made harmless is what it was.
    assert take(course, "Name,Login\n'-Ada-,x\n").data["new"] == []


def test_a_name_that_two_people_have_is_asked_for(course: Course) -> None:
    course.roster_file.write_text("apprentice,name\na1,Ada Tarnwick\na2,Ada Tarnwick\n", "utf-8")
    outcome = take(course, "Name,Group\nAda  TARNWICK,autumn\n")
    assert "a1, a2" in outcome.findings[0].text
    assert {person.cohort for person in people(course).values()} == {""}


def test_the_same_list_again_changes_nothing_whatever_its_logins_are_called(course: Course) -> None:
    """A platform may name people anew, or two of one name: the address says who it is, and identifiers stay."""
    head = "Name,E-mail,Login\n"
    first = "Ada Tarnwick,ada.t@saltmere.example,\nAda Tarnwick,tarnwick@saltmere.example,\n"
    first += "Amir Shah,as@saltmere.example,amir\n"
    assert take(course, head + first).data["new"] == ["ada.t", "tarnwick"]
    before = course.roster_file.read_bytes()
    again = take(course, head + first, leavers=False)
    assert (again.ok, again.data["written"], again.data["unchanged"]) == (True, False, ["ada.t", "tarnwick", "amir"])
    renamed = first.replace("example,\nAda", "example,u101\nAda").replace("example,amir", "example,u103")
    again = take(course, head + renamed)
    assert (again.data["new"], again.data["changed"], again.data["written"]) == ([], [], False)
    assert "'u103': The roster has this person as amir, and that stays" in " ".join(f.text for f in again.findings)
    assert course.roster_file.read_bytes() == before
    # An address that belongs to somebody else is a question for a person.
    outcome = take(course, head + "Amir Shah,tarnwick@saltmere.example,amir\n")
    assert "for tarnwick, the list for amir" in outcome.findings[0].text
    outcome = take(course, head + "Amir Shah,other@saltmere.example,\n")
    assert "with another address, as@saltmere.example" in outcome.findings[0].text
    # One that several people share tells nobody apart.
    office = "Zoë Skellow,office@saltmere.example,zoe\nBo Tarnwick,office@saltmere.example,bo\n"
    assert take(course, head + office).data["new"] == ["zoe", "bo"]
    assert take(course, head + office).data["written"] is False


def test_whoever_is_on_the_list_never_leaves(course: Course) -> None:
    course.roster_file.write_text(f"{OLD}a1,Ada Tarnwick,9\na2,Ada Tarnwick,10\n", "utf-8")
    before = course.roster_file.read_bytes()
    for line, says in (
        ("Ada Tarnwick,\n", "a1, a2"),  # which of the two is not said
        ("=Ada,a1\n", "formula"),
        ("Niamh O’Brien,nob\n", "under another identifier"),  # new by the identifier, known by the name
    ):
        outcome = take(course, f"Name,Login\nAmir Shah,amir\n{line}Zoë Skellow,zoe\n", leavers=True)
        told = " ".join(finding.text for finding in outcome.findings if finding.severity == "refused")
        assert says in told
        assert "With --leavers nothing is written while a line is refused" in told
        assert not any(text.startswith(("Left", "New", "Changed")) for text in outcome.done)
        assert course.roster_file.read_bytes() == before
    # Nor while a line of the roster itself cannot be read.
    course.roster_file.write_text(f"{OLD}a/1,Ada Tarnwick,9\n", "utf-8")
    assert take(course, "Name,Login\nAmir Shah,amir\n", leavers=True).data["written"] is False
    # Of two who share a name one can leave.
    course.roster_file.write_text("apprentice,name\na1,Ada Tarnwick\na2,Ada Tarnwick\n", "utf-8")
    assert take(course, "Name,Login\nAda Tarnwick,a1\n", leavers=True).ok
    assert people(course)["a2"].left == date(2027, 3, 1)
    assert people(course)["a1"].left is None


def test_strange_groups_and_days_are_told_and_the_person_is_taken(course: Course) -> None:
    outcome = take(course, "Name,Class,Joined\nZoë Skellow,2b,soon\nBo Tarnwick,autumn,1.3.2027\n")
    assert outcome.ok
    known = people(course)
    assert known["zoë"] == Apprentice("zoë", "Zoë Skellow")
    assert known["bo"] == Apprentice("bo", "Bo Tarnwick", "autumn", date(2027, 3, 1))
    told = " ".join(finding.text for finding in outcome.findings)
    assert "no such cohort" in told
    assert "2027-03-01" in told


def test_a_roster_as_a_german_spreadsheet_saves_it_stays_one(course: Course) -> None:
    course.roster_file.write_bytes(b"\xef\xbb\xbfapprentice;name\r\namir;Amir Shah")
    assert take(course, "Login,Name,Group\namir,Amir Shah,spring\nzoe,Zoe; Skellow,spring\n").ok
    assert course.roster_file.read_bytes() == (
        b'\xef\xbb\xbfapprentice;name;cohort\r\namir;Amir Shah;spring\r\nzoe;"Zoe; Skellow";spring\r\n'
    )


def test_the_command(course: Course, command: Run, tmp_path: Path) -> None:
    listed = tmp_path / "new people.csv"
    listed.write_text("Name,E-mail\nZoë Skellow,zoe@saltmere.example\n", "utf-8")
    tried = command("roster", "import", listed, "--cohort", "spring", "--dry-run", cwd=course.folder)
    assert "New: Zoë Skellow (zoe), cohort spring." in tried.stdout
    assert "without --dry-run" in tried.stdout
    done = command("roster", "import", listed, "--cohort", "spring", "--json", cwd=course.folder)
    assert json.loads(done.stdout)["new"] == ["zoe"]
    assert people(course)["zoe"].cohort == "spring"
    command("roster", "import", tmp_path / "none.csv", cwd=course.folder, status=1)


@given(names=st.lists(st.text(min_size=1, max_size=30), max_size=12))
def test_any_list_leaves_a_roster_that_can_be_read_and_loses_nobody(
    tmp_path_factory: pytest.TempPathFactory, names: list[str]
) -> None:
    folder = tmp_path_factory.mktemp("any")
    course = Course(folder=folder, name="c", title="C", modules=())
    course.roster_file.write_text(OLD, "utf-8")
    listed = folder / "list.csv"
    listed.write_text(
        "Name\n" + "\n".join('"' + name.replace('"', '""') + '"' for name in names) + "\n", "utf-8", "surrogatepass"
    )
    try:
        outcome = enrolment.enrol(course, listed, clock=lambda: TODAY)
    except RosterError:
        return
    roster = rosters.read_roster(course.roster_file)
    assert roster.findings == ()
    assert [person.id for person in roster][:2] == ["amir", "o'brien"]
    assert [person.id for person in roster][2:] == outcome.data["new"]
    assert not any(person.name.startswith(people_csv.FORMULA) for person in roster)
