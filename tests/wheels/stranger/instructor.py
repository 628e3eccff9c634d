"""A stranger's program on the course side: a course is built, answered and marked through public names alone.

It is type-checked and run on the installed wheels. Give it a folder that may be written to.
"""

from __future__ import annotations

import random
import sys
import zipfile
from pathlib import Path

import trainkit_grading as courses
from trainkit import forms, handin, items, journal, packs, widgets
from trainkit_grading import Course, Outcome, statistics

MODULE = "lash-and-timing"


def settled(outcome: Outcome) -> Outcome:
    """Return what a step has done, or end with what was refused."""
    if not outcome.ok:
        raise SystemExit("\n".join(finding.text for finding in outcome.findings))
    print(*outcome.done, sep="\n")
    return outcome


def founded(folder: Path, people: dict[str, str]) -> Course:
    """Make a course of one module with so many apprentices, and give it out."""
    courses.create(folder, "strange", "A strange course", [courses.CourseModule(name=MODULE)])
    rows = ["apprentice,name", *(f"{identifier},{name}" for identifier, name in people.items())]
    folder.joinpath("roster.csv").write_text("\n".join(rows) + "\n", "utf-8")
    course = Course.load(folder)
    settled(courses.build(course))
    settled(courses.assign(course))
    return course


def guess(item: items.Item, chance: random.Random) -> items.Response | None:
    """Answer without thinking; what this program cannot answer stays open."""
    if item.kind == "choice":
        return items.read_response({"kind": "choice", "option": chance.choice(item.options).id})
    if item.kind == "number":
        return items.read_response({"kind": "number", "text": "12", "unit": item.units[0]})
    return None


def handed_in(course: Course, apprentice: str, home: Path, chance: random.Random) -> Path:
    """Open somebody's zip, answer what can be answered, and return the file that they hand in."""
    with zipfile.ZipFile(course.zips / MODULE / f"{apprentice}.zip") as archive:
        archive.extractall(home)
    folder = home / MODULE
    released = forms.Forms.read(folder)
    if released is None:
        raise SystemExit("There is no form.")
    form = released.of(apprentice)
    kept = journal.Journal(
        folder / journal.JOURNAL_FILE, course=course.name, module=MODULE, form=form.code, apprentice=apprentice
    )
    for asked in form.items:
        response = guess(asked.item, chance)
        if response is not None:
            question = widgets.Assessed(asked.id, asked.item, kept)
            question.hear({"type": "save", "ticket": 1, "response": response.model_dump(mode="json")})
    return handin.pack(folder)


def main(folder: Path) -> None:
    """Draw a question, run a course of it, and read what it came to."""
    item, key = items.find("lash-and-timing/lash-degrees").draw(random.Random(1), packs.load("dunlin"))
    response = guess(item, random.Random(1))
    print(item.prompt, items.mark(item, key, response).verdict if response is not None else "no answer")
    people = {"amir": "Amir Quillbeam", "zoe": "Zoe Skellow"}
    course = founded(folder / "course", people)
    for number, apprentice in enumerate(people):
        made = handed_in(course, apprentice, folder / apprentice, random.Random(number))
        (course.inbox / made.name).write_bytes(made.read_bytes())
    settled(courses.collect(course))
    settled(courses.mark(course))
    results: courses.Results = courses.gather(course)
    for row in results.rows:
        print(row.name, row.state, f"{row.points:g} of {row.out_of:g}", row.verdict)
    print(statistics.share(sum(row.verdict == "passed" for row in results.rows), len(results.rows)).shown)
    settled(courses.report(course))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
