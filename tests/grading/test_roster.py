from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from trainkit_grading.course import roster
from trainkit_grading.errors import RosterError


def read(folder: Path, text: str | bytes) -> roster.Roster:
    path = folder / "roster.csv"
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return roster.read_roster(path)


def people(found: roster.Roster) -> list[tuple[str, str]]:
    return [(person.id, person.name) for person in found]


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_what_spreadsheets_save(tmp_path: Path, delimiter: str, end: str, mark: bytes) -> None:
    lines = ["Apprentice,Name,Group", "amir,Amir Shah,1", "o'brien,Niamh O'Brien,2", ""]
    text = end.join(line.replace(",", delimiter) for line in lines).encode()
    found = read(tmp_path, mark + text)
    assert people(found) == [("amir", "Amir Shah"), ("o'brien", "Niamh O'Brien")]
    assert not found.findings


def test_any_script_and_quoted_commas(tmp_path: Path) -> None:
    found = read(
        tmp_path,
        'apprentice,name\nдмитро,Дмитро Коваль\nמאיה,מאיה לוי\nさくら,"山本, さくら"\nd’arcy,Åse D’Arcy\nनीला,नीला\n',
    )
    assert people(found) == [
        ("дмитро", "Дмитро Коваль"),
        ("מאיה", "מאיה לוי"),
        ("さくら", "山本, さくら"),
        ("d’arcy", "Åse D’Arcy"),
        ("नीला", "नीला"),
    ]


def test_each_wrong_line_is_told_and_costs_nothing_else(tmp_path: Path) -> None:
    wrong = {
        3: "../amir,Climber",
        4: "a/b,Slash",
        5: "a\\b,Backslash",
        6: "con,Device",
        7: 'open,"Open quote',
        8: "alone",
        9: ",Nobody",
        10: "noname,",
        11: "many,Many,cells",
        12: "AMIR,Twin in other letters",
        13: ".hidden,Hidden",
        14: "plus+sign,Plus",
        15: "star*,Star",
        16: "bell\x07,Bell",
        17: "turned,Turned \u202egnorw",
        18: "a" * 65 + ",Too long",
        19: "brackets[1],Brackets",
        20: "percent%41,Percent",
    }
    lines = ["apprentice,name", "amir,Amir Shah", *wrong.values(), "zoë,Zoë"]
    found = read(tmp_path, "\n".join(lines))
    assert people(found) == [("amir", "Amir Shah"), ("zoë", "Zoë")]
    assert [finding.place for finding in found.findings] == [f"roster.csv line {number}" for number in wrong]
    for finding, line in zip(found.findings, wrong.values(), strict=True):
        assert finding.severity == "refused"
        # The value, the rule and the remedy: a quoted value and two sentences at least.
        assert finding.text.count(". ") >= 1, line
        assert "\x07" not in finding.text
        assert "\u202e" not in finding.text


def test_composed_and_decomposed_letters_are_one_person(tmp_path: Path) -> None:
    found = read(tmp_path, "apprentice,name\nzoe\u0308,Zoë\nzo\u00eb,Zoë again\n")
    assert people(found) == [("zoë", "Zoë")]
    assert "Line 2" in found.findings[0].text
    assert found.find("zoe\u0308") == found.find("zo\u00eb") == found.apprentices[0]


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "apprentice and name"),
        (b"id,name\namir,Amir\n", "apprentice and name"),
        (b"apprentice,name,name\namir,A,B\n", "once each"),
        ("apprentice,name\nzoë,Zoë\n".encode("latin-1"), "CSV UTF-8"),
        ("apprentice,name\namir,Amir\n".encode("utf-16"), "UTF-8"),
    ],
)
def test_unusable_as_a_whole(tmp_path: Path, content: bytes, says: str) -> None:
    with pytest.raises(RosterError, match=says):
        read(tmp_path, content)


def test_missing_or_huge(tmp_path: Path) -> None:
    with pytest.raises(RosterError, match="has a roster"):
        roster.read_roster(tmp_path / "roster.csv")
    with pytest.raises(RosterError, match="at most"):
        read(tmp_path, b"apprentice,name\n" + b"# padding\n" * 450_000)


@given(st.binary(max_size=400))
def test_any_bytes_give_people_or_a_clear_refusal(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    folder = tmp_path_factory.mktemp("roster")
    try:
        found = read(folder, b"apprentice,name\n" + content)
    except RosterError:
        return
    for person in found:
        assert roster.wrong_identifier(person.id) == ""
        # An identifier names a folder: it is one part of a path and none of the special ones.
        assert (folder / person.id).parent == folder
        assert Path(person.id).name == person.id


@given(st.text(min_size=1, max_size=20))
def test_an_accepted_identifier_can_name_a_folder(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    if roster.wrong_identifier(text):
        return
    home = tmp_path_factory.mktemp("names")
    (home / text).mkdir()
    assert [path.name for path in home.iterdir()] == [text]
    assert not set(text) & set('/\\:*?"<>|+[]{}%#$`;&\n\0')
