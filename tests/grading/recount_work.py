"""What practical work shows, worked out again from the rows of the ledger; a part of the recount of a course."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cached_property
from typing import Any

Row = Mapping[str, Any]


class WatchedWork:
    """Practical work that was watched; the entries are the recount's."""

    entries: dict[int, dict[str, Any]]

    def of_kind(self, *kinds: str) -> list[dict[str, Any]]:
        return [entry for entry in self.entries.values() if entry["kind"] in kinds]

    @cached_property
    def signed(self) -> dict[str, dict[str, dict[str, Any]]]:
        """What practical work shows, by identifier and checklist."""
        groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
        for entry in self.of_kind("observed"):
            if entry["who"]:
                groups.setdefault((entry["who"], entry["said"]["checklist"]), []).append(entry)
        found: dict[str, dict[str, dict[str, Any]]] = {}
        for (who, sheet), of in groups.items():
            whole = [entry for entry in of if not entry["said"]["again"]]
            if whole:
                last = max(whole, key=lambda entry: (entry["said"]["at"], entry["number"]))
                again = [e for e in of if e["said"]["again"] and e["said"]["at"] >= last["said"]["at"]]
                found.setdefault(who, {})[sheet] = self._judged(last, sorted(again, key=lambda e: e["said"]["at"]))
        return found

    def _judged(self, entry: Row, again: list[dict[str, Any]]) -> dict[str, Any]:
        said = entry["said"]
        outcomes = {name: outcome for name, _, _, outcome in said["steps"]}
        critical = {name for name, _, hurts, _ in said["steps"] if hurts}
        for later in again:
            for name, _, _, outcome in later["said"]["steps"]:
                # A prompt is made up for, or needed once more; what was left out stays left out.
                if outcomes[name] in ("prompted", "unprompted") or outcome == "stopped for safety":
                    outcomes[name] = outcome
        count = Counter((name in critical, outcome) for name, outcome in outcomes.items())
        weak, others = count[False, "prompted"], sum(name not in critical for name in outcomes)
        if count[True, "stopped for safety"] + count[False, "stopped for safety"]:
            rule = "S"
        elif count[True, "not done"]:
            rule = "C"
        elif count[True, "prompted"]:
            rule = "P"
        elif count[False, "not done"]:
            rule = "N"
        else:
            rule = "Q" if 4 * weak > others else "K"
        alike = said["observer"].replace(" ", "").casefold() == said["trainer"].replace(" ", "").casefold()
        return {"rule": rule, "outcomes": outcomes, "same": alike, "entry": entry["number"], "said": said}
