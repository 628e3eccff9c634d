"""Every figure of the reports, worked out again: loops over the rows of the ledger as they stand in the database.

Nothing here asks the product what a figure is. Rows are read with SQL, dates and criteria from the course's own files;
rules are written down once more, in another way. What could have shown is counted off the keys.
"""

from __future__ import annotations

import csv
import json
import math
import sqlite3
import tomllib
from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

from trainkit import modules
from trainkit.items.facts import met_by_chance
from trainkit.items.reading import read_response
from trainkit_grading.diagnosis import Answer, diagnose
from trainkit_grading.forms import store

from .recount_work import WatchedWork

Row = Mapping[str, Any]
EVERYBODY = "*"


class Recount(WatchedWork):
    """A course, read from its database and files.

    Parameters
    ----------
    folder : Path
        The course folder.
    now : datetime
        When the reports are written.
    """

    def __init__(self, folder: Path, now: datetime) -> None:
        self.folder, self.now = folder, now
        toml = tomllib.loads((folder / "course.toml").read_text("utf-8"))
        self.cohorts = {of["name"]: of for of in toml.get("cohorts", ())}
        self.criteria: list[dict[str, Any]] = toml["criteria"]
        self.supervised = {entry["name"]: entry.get("supervised") for entry in toml["modules"]}
        self.lateness = toml["lateness"]
        self.dates = {of["name"]: of for of in toml["modules"]}
        self.modules = list(self.dates)
        lines = (folder / "roster.csv").read_text("utf-8").splitlines()
        self.people = {row["apprentice"]: row for row in csv.DictReader(lines)}
        self.blueprints = {
            name: tomllib.loads((modules.folder() / name / "module.toml").read_text("utf-8")) for name in self.modules
        }
        database = sqlite3.connect(f"file:{folder / 'gradebook.db'}?mode=ro", uri=True)
        database.row_factory = sqlite3.Row

        def rows(query: str) -> list[dict[str, Any]]:
            return [dict(row) for row in database.execute(query)]

        self.names = {row["person"]: row["apprentice"] for row in rows("select * from trainkit_person")}
        self.entries = {row["number"]: row for row in rows("select * from trainkit_entry order by number")}
        for entry in self.entries.values():
            entry["said"] = json.loads(entry["detail"])
            # Whoever was forgotten keeps the random identifier alone.
            entry["who"] = self.names.get(entry["person"], "")
        self.marks: dict[int, list[dict[str, Any]]] = {}
        for row in rows("select * from trainkit_mark order by entry, place"):
            self.marks.setdefault(row["entry"], []).append(row)
        self.notes: dict[int, list[dict[str, Any]]] = {}
        for row in rows("select * from trainkit_note order by entry, place"):
            self.notes.setdefault(row["entry"], []).append(row)
        database.close()

    def own(self, who: str) -> dict[str, dict[str, Any]]:
        """Return somebody's results by the title of the module."""
        return {self.blueprints[name]["title"]: self.results[who, name] for name in self.modules}

    def missing(self, who: str) -> list[str]:
        return [title for title, of in self.own(who).items() if of["expected"] and of["state"] == "missing"]

    def late(self, who: str) -> list[str]:
        return [title for title, of in self.own(who).items() if of["late"] > 0]

    def unsupervised(self, who: str) -> list[str]:
        return [title for title, of in self.own(who).items() if of["attempt"] and not of["session"]]

    # What people gave, and which attempt counts.

    @cached_property
    def given(self) -> dict[tuple[str, str, int, str], dict[str, Any]]:
        """The last word of a person on points, by person, module, attempt and item."""
        found: dict[tuple[str, str, int, str], dict[str, Any]] = {}
        for entry in self.of_kind("changed", "voided"):
            if entry["said"].get("field") == "points":
                found[entry["person"], entry["module"], entry["attempt"], entry["said"]["item"]] = entry
        return {place: entry for place, entry in found.items() if entry["said"]["to"] is not None}

    def earned(self, entry: Row, row: Row) -> float | None:
        """Return what counts for one answer; None while it waits."""
        of = self.given.get((entry["person"], entry["module"], entry["attempt"], row["item"]))
        if of is not None:
            return float(of["said"]["to"])
        return None if row["verdict"] == "waiting" else float(row["points"])

    def total(self, entry: Row) -> float:
        return sum(self.earned(entry, row) or 0.0 for row in self.marks[entry["number"]])

    @cached_property
    def newest(self) -> dict[tuple[str, str], dict[int, dict[str, Any]]]:
        """The newest marks of each attempt, by person and module."""
        found: dict[tuple[str, str], dict[int, dict[str, Any]]] = {}
        for entry in self.of_kind("marked"):
            found.setdefault((entry["person"], entry["module"]), {})[entry["attempt"]] = entry
        return found

    @cached_property
    def counting(self) -> dict[tuple[str, str], dict[str, Any]]:
        """The entry that counts, by person and module: the best attempt, the later one of two alike."""
        return {
            place: max(tries.values(), key=lambda entry: (entry["said"]["counts"], self.total(entry), entry["attempt"]))
            for place, tries in self.newest.items()
        }

    # One result.

    def gone(self, who: str) -> bool:
        left = self.people[who]["left"]
        return bool(left) and date.fromisoformat(left) <= self.now.date()

    def due(self, who: str, module: str) -> datetime | None:
        row = self.people[who]
        of = self.dates[module]
        due: datetime = self.cohorts.get(row["cohort"], {}).get("due", {}).get(module, of["due"])
        if row["joined"] and date.fromisoformat(row["joined"]) > due.date():
            return None
        if row["extra_percent"]:
            minutes = (due - of["opens"]).total_seconds() / 60
            due += timedelta(minutes=math.ceil(minutes * float(row["extra_percent"]) / 100))
        return due

    def session(self, entry: Row) -> dict[str, Any] | None:
        times = [datetime.fromisoformat(row["answered"]) for row in self.marks[entry["number"]] if row["answered"]]
        for sat in self.of_kind("session"):
            said = sat["said"]
            begin, end = (datetime.fromisoformat(said[name]) for name in ("begin", "end"))
            there = not said["apprentices"] or entry["person"] in said["apprentices"]
            near = timedelta(minutes=10)
            inside = bool(times) and begin - near <= min(times) <= max(times) <= end + near
            if sat["module"] == entry["module"] and there and inside:
                return dict(said)
        return None

    def unsafe(self, entry: Row) -> list[str]:
        """Return items with an unsafe answer that nobody has given all points."""
        unsafe = [row["item"] for row in self.marks[entry["number"]] if row["critical"]]
        seen: dict[str, bool] = {}
        for said in self.of_kind("changed", "voided"):
            same = all(said[name] == entry[name] for name in ("person", "module", "attempt"))
            if same and "critical" in said["said"]:
                seen[said["said"]["item"]] = said["said"]["critical"]
        unsafe += [item for item, harm in seen.items() if harm]
        most = {row["item"]: row["out_of"] for row in self.marks[entry["number"]]}
        return [
            item
            for item in unsafe
            if not (
                (of := self.given.get((entry["person"], entry["module"], entry["attempt"], item)))
                and float(of["said"]["to"]) >= most[item]
            )
        ]

    def spoken(self, entry: Row) -> tuple[str, str]:
        """Return the one worded question that bars a pass, and what came of asking; nothing where there is none."""
        bars = [item for item in self.unsafe(entry) if item in entry["said"]["critical"]]
        if len(bars) != 1 or bars[0] not in entry["said"].get("spoken", ()):
            return "", ""
        (answer,) = (row["response_hash"] for row in self.marks[entry["number"]] if row["item"] == bars[0])
        outcome = "waiting"
        for decided in self.of_kind("decided"):
            about = self.entries[decided["said"]["of"]]
            same = all(about[name] == entry[name] for name in ("person", "module", "attempt"))
            if same and decided["said"]["outcome"] in ("confirmed", "slip") and decided["said"]["item"] == bars[0]:
                rows = self.marks[about["number"]]
                if any(row["item"] == bars[0] and row["response_hash"] == answer for row in rows):
                    outcome = decided["said"]["outcome"]
        return bars[0], outcome

    def critical(self, entry: Row) -> list[str]:
        """Return the unsafe answers that bar a pass."""
        slip = self.spoken(entry)[1] == "slip"
        return [] if slip else [item for item in self.unsafe(entry) if item in entry["said"]["critical"]]

    def cut(self, module: str) -> float:
        return float(self.blueprints[module]["cut_score"])

    def out_of(self, module: str) -> float:
        return float(sum(item.get("points", 1) for item in self.blueprints[module]["items"]))

    @cached_property
    def results(self) -> dict[tuple[str, str], dict[str, Any]]:
        """Results of everybody on the roster, by identifier and module."""
        person_of = {name: person for person, name in self.names.items()}
        return {
            (who, module): self._result(who, module, self.counting.get((person_of.get(who, ""), module)))
            for who in self.people
            for module in self.modules
        }

    def _result(self, who: str, module: str, entry: Row | None) -> dict[str, Any]:
        expected = not self.gone(who) and self.dates[module]["opens"] <= self.now
        due = self.due(who, module)
        plain = {"expected": expected, "due": due, "cohort": self.people[who]["cohort"], "out_of": self.out_of(module)}
        if entry is None:
            nothing = {"state": "missing", "entry": 0, "points": 0.0, "verdict": "not yet", "critical": [], "late": 0.0}
            nothing |= {"unsafe": [], "unread": 0.0, "spoken": ""}
            return {**plain, **nothing, "attempt": 0, "attempts": 0, "session": None, "arrived": None, "penalty": 0.0}
        arrived = datetime.fromisoformat(entry["arrived"]).replace(tzinfo=UTC)
        late = max(0.0, (arrived - due).total_seconds()) if due is not None else 0.0
        points = self.total(entry)
        percent = min(math.ceil(late / 86400) * self.lateness["percent_a_day"], self.lateness["at_most_percent"])
        penalty = min(round(points * percent / 100, 2), points) if late > 0 else 0.0
        critical = self.critical(entry)
        unread = sum(row["out_of"] for row in self.marks[entry["number"]] if self.earned(entry, row) is None)
        reached = round(100 * (points - penalty) / self.out_of(module), 6) >= self.cut(module)
        out_of_reach = round(100 * (points + unread - penalty) / self.out_of(module), 6) < self.cut(module)
        spoken = self.spoken(entry)[1]
        waits = unread > 0 or (reached and spoken == "waiting")
        if out_of_reach or (critical and spoken != "waiting"):
            waits = False  # nothing that waits can change it any more
        return {
            **plain,
            "state": "handed in",
            "entry": entry["number"],
            "form": entry["form"],
            "points": points - penalty,
            "penalty": penalty,
            "verdict": "waiting" if waits else "passed" if reached and not critical else "not yet",
            "critical": critical,
            "unread": unread,
            "unsafe": self.unsafe(entry),
            "spoken": spoken,
            "overridden": sorted(
                item
                for person, name, attempt, item in self.given
                if (person, name, attempt) == (entry["person"], module, entry["attempt"])
            ),
            "late": late,
            "attempt": entry["attempt"],
            "attempts": len(self.newest[entry["person"], module]),
            "session": self.session(entry),
            "arrived": arrived,
            "medium": entry["said"].get("medium", "screen"),
            "flags": [note["text"] for note in self.notes.get(entry["number"], ())],
        }

    # Readiness.

    def code_of_module(self, who: str, module: str) -> str:
        of = self.results[who, module]
        if of["state"] == "missing":
            return "M6"
        if of["verdict"] == "waiting":
            return "M7" if of["spoken"] == "waiting" else "M3"
        if of["critical"]:
            return "M4"
        alone = "M8" if self.supervised.get(module) is False else "M2"
        return "M5" if of["verdict"] != "passed" else "M1" if of["session"] else alone

    def code_of_step(self, who: str, named: str) -> str:
        own = self.signed.get(who, {})
        sheet, _, step = named.partition(":")
        if sheet == "any":
            codes = sorted(self.code_of_step(who, name) for name in own)
            return codes[0] if codes else "S6"
        of = own.get(sheet)
        if of is None or (step and step not in of["outcomes"]):
            return "S6"
        if step and of["outcomes"][step] != "unprompted":
            return "S3" if of["outcomes"][step] == "prompted" else "S4"
        if not step and of["rule"] != "K":
            return "S5"
        return "S2" if of["same"] else "S1"

    def evidence(self, who: str) -> list[tuple[str, list[str]]]:
        """Return the code of each criterion, and the codes of its evidence."""
        found = []
        for criterion in self.criteria:
            codes = [self.code_of_module(who, module) for module in criterion.get("modules", ())]
            codes += [self.code_of_step(who, step) for step in criterion.get("steps", ())]
            if all(code in ("M6", "S6") for code in codes):
                whole = "C1"
            elif all(code in ("M1", "M8", "S1") for code in codes):
                whole = "C2"
            elif any(code in ("M4", "M5", "S3", "S4", "S5") for code in codes):
                whole = "C4"
            else:
                whole = "C3" if sum(code not in ("M1", "M8", "S1") for code in codes) == 1 else "C4"
            found.append((whole, codes))
        return found

    def forward(self, who: str) -> tuple[bool, str]:
        short = [of["number"] for of, (code, _) in zip(self.criteria, self.evidence(who), strict=True) if code != "C2"]
        waits = self.matters[who]
        if short:
            return False, f"Not ready: {', '.join(short)}."
        if not any(of["rule"] == "K" and not of["same"] for of in self.signed.get(who, {}).values()):
            return False, "No practical work is signed off as competent by somebody else than the trainer."
        if waits:
            return False, f"{waits} matter{' waits' if waits == 1 else 's wait'} for a decision."
        reason = "Every criterion is ready, practical work is signed off, and nothing waits for a decision."
        return not self.gone(who), reason

    @cached_property
    def waiting(self) -> Counter[tuple[str, str]]:
        """How many matters of each kind wait, by kind and identifier."""
        asked = ("confirmed", "slip")
        settled = {e["said"]["of"] for e in self.of_kind("decided") if e["said"]["outcome"] not in asked}
        found: Counter[tuple[str, str]] = Counter()
        for entry in self.of_kind("appealed"):
            found["appeal", entry["who"]] += entry["number"] not in settled
        for entry in self.of_kind("second"):
            said = entry["said"]
            if said["what"] == "judged" and 4 * abs(said["first"] - said["points"]) > said["out_of"]:
                found["disagreement", entry["who"]] += entry["number"] not in settled
        for entry in self.of_kind("observed", "decided"):
            alike = any(note["kind"] == "assessor" for note in self.notes.get(entry["number"], ()))
            found["same person", entry["who"]] += alike and entry["number"] not in settled
        for entry in self.counting.values():
            noted = bool(self.notes.get(entry["number"]))
            found["flag", entry["who"]] += noted and entry["number"] not in settled
            found["spoken check", entry["who"]] += self.spoken(entry)[1] == "waiting"
            for row in self.marks[entry["number"]]:
                of = self.given.get((entry["person"], entry["module"], entry["attempt"], row["item"]))
                by_person = row["kind"] in ("text", "observed")
                if of is not None and not by_person and "entry" not in of["said"]:
                    found["override", entry["who"]] += of["number"] not in settled
                if self.earned(entry, row) is None:
                    found["text" if row["kind"] == "text" else "observation", entry["who"]] += 1
        return Counter({place: count for place, count in found.items() if count and place[1]})

    @cached_property
    def matters(self) -> Counter[str]:
        found: Counter[str] = Counter()
        for (_, who), count in self.waiting.items():
            found[who] += count
        return found

    # How modules and cohorts fare.

    def fared(self, cohort: str, module: str) -> tuple[int, int, int, int, int, int, float]:
        """Return how many are expected, have handed in, were late, are marked, passed, have harmed; and the mean."""
        own = [of for (_, name), of in self.results.items() if name == module and cohort in (EVERYBODY, of["cohort"])]
        marked = [of for of in own if of["state"] == "handed in" and of["verdict"] != "waiting" and not of["unread"]]
        return (
            sum(of["expected"] for of in own),
            sum(of["state"] == "handed in" for of in own),
            sum(of["late"] > 0 for of in own),
            len(marked),
            sum(of["verdict"] == "passed" for of in marked),
            sum(bool(of["critical"]) for of in own),
            sum(100 * of["points"] / of["out_of"] for of in marked) / len(marked) if marked else 0.0,
        )

    def weeks(self, cohort: str) -> list[float]:
        """Return which part of its modules a cohort has passed by the end of each week since its first hand-in."""
        own = [of for of in self.results.values() if of["cohort"] == cohort]
        there = [of for of in own if of["arrived"] is not None]
        asked = sum(of["expected"] or of["state"] == "handed in" for of in own)
        begin = min(of["arrived"] for of in there)
        last = max((of["arrived"] - begin).days // 7 for of in there)
        return [
            sum(of["verdict"] == "passed" and (of["arrived"] - begin) < timedelta(days=7 * week) for of in there)
            / asked
            for week in range(1, last + 2)
        ]

    # What the class gets wrong.

    def answers(self) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
        """Yield each entry that counts with each of its marks, also of people who were forgotten."""
        for entry in self.counting.values():
            for row in self.marks[entry["number"]]:
                yield entry, row

    @cached_property
    def drawn(self) -> dict[tuple[str, str, str], tuple[Any, Any]]:
        """Item and key of each question that was answered, by module, form and item."""
        found = {}
        for module, attempt in {(entry["module"], entry["attempt"]) for entry in self.of_kind("marked")}:
            forms = store.read_forms(self.folder / "forms" / module / f"attempt-{attempt}.jsonl")
            keys = store.read_keys(next((self.folder / "keys").glob(f"{module}/attempt-{attempt}.jsonl")))
            assert forms is not None
            assert keys is not None
            for form in forms.forms:
                for of in form.items:
                    if of.id in keys.forms[form.code].keys:
                        found[module, form.code, of.id] = (of.item, keys.forms[form.code].keys[of.id])
        return found

    @cached_property
    def shows(self) -> dict[str, dict[str, Any]]:
        """Of each misconception that showed: in how many answers, of how many chances, by whom, where."""
        met = {(row["misconception"], entry["module"], row["item"]) for entry, row in self.answers()}
        found: dict[str, dict[str, Any]] = {
            code: {"shown": 0, "chances": 0, "unsafe": 0, "times": Counter()}
            | {name: set() for name in ("could", "modules", "rows", "did")}
            for code in {code for code, _, _ in met} - {""}
        }
        for entry, row in self.answers():
            if row["response_hash"] == "":
                continue
            if row["kind"] == "actions":
                # What can show in a scenario is known from what has shown.
                could = {code for code, module, item in met if (module, item) == (entry["module"], row["item"])}
            else:
                item, key = self.drawn[entry["module"], entry["form"], row["item"]]
                could = {*met_by_chance(item, key)}
            showed = {row["misconception"]} - {""}
            # Of whoever was forgotten nobody can say which modules belong together.
            who = entry["who"] or f"nobody {entry['module']} {entry['number']}"
            for code in (could | showed) & set(found):
                found[code]["chances"] += 1
                found[code]["could"].add(who)
                found[code]["rows"].add((who, entry["module"]))
            for code in showed:
                found[code]["shown"] += 1
                found[code]["unsafe"] += bool(row["critical"])
                found[code]["times"][who] += 1
                found[code]["did"].add((who, entry["module"]))
                found[code]["modules"].add(entry["module"])
        return found

    def holds(self, who: str) -> list[str]:
        """Return the misconceptions that somebody holds, from all their answers weighed together."""
        answers = [
            Answer(
                f"{entry['module']} {row['item']}",
                *self.drawn[entry["module"], entry["form"], row["item"]],
                read_response(json.loads(row["response"])),
            )
            for entry, row in sorted(self.answers(), key=lambda pair: (pair[0]["number"], pair[1]["place"]))
            if entry["who"] == who and row["response"] is not None
        ]
        return [finding.misconception for finding in diagnose(answers) if finding.held]

    # How templates work.

    @cached_property
    def shares(self) -> dict[str, list[tuple[str, str, float, float]]]:
        """By template, each mark: the module, whose, its part of the points, and that of the rest of the assessment."""
        found: dict[str, list[tuple[str, str, float, float]]] = {}
        for entry in self.counting.values():
            rows = self.marks[entry["number"]]
            earned = {row["item"]: self.earned(entry, row) for row in rows}
            for row in rows:
                own = earned[row["item"]]
                if own is None:
                    continue
                others = [other for other in rows if other is not row and earned[other["item"]] is not None]
                rest = sum(earned[other["item"]] or 0 for other in others) / sum(other["out_of"] for other in others)
                part = min(max(own / row["out_of"], 0.0), 1.0)
                who = entry["who"] or f"nobody {entry['module']} {entry['number']}"
                found.setdefault(row["template"], []).append((entry["module"], who, part, rest))
        return found

    def point_biserial(self, template: str) -> tuple[int, int, float | None]:
        """Return how many people and answers there are, and the correlation within assessments."""
        rests: dict[str, list[float]] = {}
        for rows in self.shares.values():
            for module, _, _, rest in rows:
                rests.setdefault(module, []).append(rest)
        own = self.shares[template]
        sums = [0.0, 0.0, 0.0]
        n, people = 0, set()
        for module in {module for module, _, _, _ in own}:
            some = [(part, rest, who) for name, who, part, rest in own if name == module]
            if len(some) < 2:
                continue
            mean = sum(rests[module]) / len(rests[module])
            spread = math.sqrt(sum((rest - mean) ** 2 for rest in rests[module]) / len(rests[module]))
            u_mean = sum(part for part, _, _ in some) / len(some)
            z_mean = sum((rest - mean) / spread for _, rest, _ in some) / len(some)
            for part, rest, who in some:
                u, z = part - u_mean, (rest - mean) / spread - z_mean
                sums = [sums[0] + u * z, sums[1] + u * u, sums[2] + z * z]
                people.add(who)
            n += len(some)
        value = sums[0] / math.sqrt(sums[1] * sums[2]) if sums[1] > 1e-12 and sums[2] > 1e-12 else None
        return len(people), n, value
