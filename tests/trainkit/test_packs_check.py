"""What is wrong with a pack is found, with a stable code, the right line and a remedy: one mutated pack a finding."""

from __future__ import annotations

import ast
import json
import re
from pathlib import Path

import pytest

import trainkit_grading.course.packs
from tests.trainkit.pack_faults import CASES, DUNLIN, PACKS, START, Case, Edit, line_of, mutated
from trainkit import packs
from trainkit.errors import PackError
from trainkit.packs.findings import PackFinding

# Packs as earlier releases had them, which running courses still use.
EARLIER = Path(trainkit_grading.course.packs.__file__).parent / "earlier"
MANUAL = ('values = "invented"', 'values = "manual"\nmanual = "Book"\nedition = "2"')


@pytest.mark.parametrize("case", CASES, ids=[f"{number:03}-{case.code}" for number, case in enumerate(CASES)])
def test_a_mutated_pack_is_found_out(case: Case) -> None:
    text = mutated(case.base, case.edits)
    examined = packs.examine_text(text, "mine.toml")
    line = line_of(text, case.at)
    found = [finding for finding in examined.findings if finding.code == case.code]
    assert found, [str(finding) for finding in examined.findings]
    here = [finding for finding in found if finding.line == line]
    assert here, (line, [str(finding) for finding in found])
    assert any(case.says in f"{finding.rule} {finding.remedy}" for finding in here), [str(f) for f in here]
    for finding in examined.findings:
        assert finding.code in packs.CODES
        assert finding.file == "mine.toml"
        assert finding.rule.endswith((".", ")", "?"))
        assert finding.remedy.endswith(".")
    assert {finding.severity for finding in here} == {case.severity}
    refused = any(finding.severity == "refuse" for finding in examined.findings)
    assert (examined.pack is None) == refused
    if refused:
        with pytest.raises(PackError) as caught:
            packs.load_text(text, "mine.toml")
        assert caught.value.findings == examined.findings
        assert "mine.toml" in str(caught.value)


def test_every_code_has_its_case() -> None:
    elsewhere = {
        "file-unreadable": "tests/trainkit/test_cli_check.py",
        "file-too-large": "below",
        "text-not-utf8": "below",
        "misconception-unknown": "below",
        "safety-not-stated": "below",
        "start-paths-missing": "below",
    }
    assert set(packs.CODES) == {case.code for case in CASES} | set(elsewhere)


def test_every_code_in_the_source_is_in_the_catalogue() -> None:
    written = set()
    for file in [*PACKS.rglob("*.py"), *(PACKS.parent / "cli").rglob("*.py")]:
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            name = getattr(node.func, "id", getattr(node.func, "attr", "")) if isinstance(node, ast.Call) else ""
            if isinstance(node, ast.Call) and name in ("Breach", "Finding", "found") and node.args:
                first = node.args[0]
                chosen = [first.body, first.orelse] if isinstance(first, ast.IfExp) else [first]
                written |= {each.value for each in chosen if isinstance(each, ast.Constant)}
    assert len(written) > 60
    assert written - {f"{what}-undeclared" for what in ("tool", "part", "gear", "step", "fastener")} <= set(packs.CODES)


def test_bytes_that_are_no_text_are_told_with_their_line() -> None:
    from trainkit.packs.check import examine_bytes

    (found,) = examine_bytes("a = 1\nname = 'Größe'\n".encode("latin-1"), "mine.toml").findings
    assert (found.code, found.line, found.severity) == ("text-not-utf8", 2, "refuse")
    assert "UTF-8" in found.remedy


def test_a_file_of_absurd_size_is_not_read(tmp_path: Path) -> None:
    path = tmp_path / "huge.toml"
    path.write_bytes(b"# " + b"x" * 2_500_000)
    (found,) = packs.examine(path).findings
    assert (found.code, found.severity) == ("file-too-large", "refuse")


def test_misconceptions_are_held_against_a_catalogue_that_is_handed_in() -> None:
    path = PACKS / "data" / "dunlin.toml"
    codes = {shown.shows for shown in packs.load("dunlin").precedence if shown.shows}
    assert packs.examine(path, misconceptions=codes).findings == ()
    found = packs.examine(path, misconceptions=codes - {"pin-out-last"} | {"pin-out-late"}).findings
    assert {finding.code for finding in found} == {"misconception-unknown"}
    assert found[0].line == line_of(DUNLIN, 'shows = "pin-out-last"')
    assert "Did you mean pin-out-late?" in found[0].remedy


def test_a_pack_without_energies_loads_and_is_told_what_it_does_not_state() -> None:
    (path,) = EARLIER.glob("dunlin-*.toml")
    examined = packs.examine(path)
    assert [(finding.code, finding.severity) for finding in examined.findings] == [
        ("safety-not-stated", "warn"),
        ("caution-not-stated", "note"),
    ]
    assert examined.findings[0].line == line_of(path.read_text("utf-8"), "[engine]")
    assert examined.pack is not None
    missing = packs.unstated(examined.pack)
    assert set(missing) == {"sequence", "lock-pin", "capstone"}
    assert "what can move, burn or strike" in missing["sequence"][0]


def test_a_pack_with_a_starter_says_on_which_paths_it_starts() -> None:
    text = re.sub(r"(?m)^\[\[start_paths\]\]\n(?:(?!\[).*\n)*", "", DUNLIN)
    (found,) = packs.examine_text(text).findings
    assert (found.code, found.severity) == ("start-paths-missing", "warn")
    assert found.line == line_of(text, "[[energy]]")


def test_everything_is_found_at_once() -> None:
    chosen = [
        case
        for case in CASES
        if case.code
        in (
            "firing-order-no-permutation",
            "torque-columns-disagree",
            "single-use-refitted",
            "key-unknown",
            "tool-undeclared",
            "precedence-cycle",
            "back-off-too-short",
            "thread-unknown",
        )
        and case.base is DUNLIN
    ]
    one_each = {case.code: case for case in reversed(chosen)}
    # Shape is wrong in a section of its own here, so that nothing else has to wait for it.
    one_each["key-unknown"] = Case("key-unknown", (("[notice]", "[notice]\nfoot = 1"),), "foot = 1")
    text = DUNLIN
    for case in one_each.values():
        text = mutated(text, case.edits)
    found = packs.examine_text(text).findings
    assert set(one_each) <= {finding.code for finding in found}
    for case in one_each.values():
        assert line_of(text, case.at) in [finding.line for finding in found if finding.code == case.code]
    lines = [finding.line for finding in found if finding.line]
    assert lines == sorted(lines)


MANUAL_PAGED = mutated(
    START.replace("\nteeth =", '\npage = "4"\nteeth =').replace("\nlash_mm =", '\npage = "4"\nlash_mm ='), (MANUAL,)
)
for _table in ("[engine]\n", "[barring]\n", "[lock_pin]\n", "[[fasteners]]\n"):
    MANUAL_PAGED = MANUAL_PAGED.replace(_table, f'{_table}page = "5"\n')

PRINTED = [
    ("torque-columns-disagree", ('"70 N·m", "52 lbf·ft"', '"70 N·m", "55 lbf·ft"')),
    ("final-below-earlier", ('"30 N·m", "22 lbf·ft"', '"75 N·m", "55 lbf·ft"')),
    ("torque-beyond-proof", ('thread = "M14x1.5"', 'thread = "M8"')),
    ("direction-contradicts-meshes", ('turns = "anticlockwise"', 'turns = "clockwise"')),
    ("back-off-too-short", ("back_off_deg = 25.0", "back_off_deg = 9.1")),
    ("single-use-refitted", ('fate = "renew"\nsingle_use', 'fate = "refit"\nsingle_use')),
]


@pytest.mark.parametrize(("code", "edit"), PRINTED, ids=[row[0] for row in PRINTED])
def test_against_a_manual_a_contradiction_is_a_warning_that_can_be_accepted(code: str, edit: Edit) -> None:
    assert packs.examine_text(MANUAL_PAGED).findings == ()
    text = mutated(MANUAL_PAGED, (edit,))
    (found,) = [finding for finding in packs.examine_text(text).findings if finding.code == code]
    assert found.severity == "warn"
    assert found.remedy.startswith("Check your entry; the manual wins.")
    assert f'as_printed = ["{code}"]' in found.remedy
    assert packs.load_text(text).name == "my-engine"
    # Accepted in the table where it stands, it is still told, as a note.
    lines = text.split("\n")
    lines.insert(found.line, f'as_printed = ["{code}"]')
    (accepted,) = [finding for finding in packs.examine_text("\n".join(lines)).findings if finding.code == code]
    assert (accepted.severity, accepted.remedy) == ("note", "Accepted as printed.")
    # With invented values there is nobody to win against the rule.
    invented = mutated(START, (edit,))
    assert [f.severity for f in packs.examine_text(invented).findings if f.code == code] == ["refuse"]


@pytest.mark.parametrize(
    "edit",
    [
        ("firing_order = [1, 3, 2]", "firing_order = [1, 3, 3]"),
        ('after = "release"', 'after = "isolate"'),
        ('thread = "M8"', 'thread = "M8x9"'),
        ('tells_stroke = "valves"', 'tells_stroke = "hole"'),
        ("teeth = 64", "teeth = 5"),
    ],
)
def test_what_cannot_be_is_refused_even_if_a_manual_is_claimed(edit: Edit) -> None:
    text = mutated(MANUAL_PAGED, (edit,))
    assert packs.examine_text(text).pack is None


def test_accepting_one_code_accepts_no_other() -> None:
    edits = (
        ('thread = "M14x1.5"', 'thread = "M8"'),
        ('"70 N·m", "52 lbf·ft"]', '"70 N·m", "55 lbf·ft"]\nas_printed = ["torque-beyond-proof"]'),
    )
    text = mutated(MANUAL_PAGED, edits)
    severities = {finding.code: finding.severity for finding in packs.examine_text(text).findings}
    assert severities == {"torque-beyond-proof": "note", "torque-columns-disagree": "warn"}


def test_findings_are_plain_data() -> None:
    (found,) = packs.examine_text(mutated(START, (('thread = "M8"', 'thread = "M8x9"'),)), "mine.toml").findings
    data = json.loads(json.dumps(found.as_data()))
    assert data == {
        "code": "thread-unknown",
        "severity": "refuse",
        "file": "mine.toml",
        "line": line_of(START, 'thread = "M8"'),
        "key": "fasteners[1].thread",
        "value": "M8x9",
        "rule": found.rule,
        "remedy": found.remedy,
    }
    assert str(found).startswith("mine.toml:")
    assert isinstance(found, PackFinding)
