"""Examining a pack: text, shape, then every rule whose sections are in shape; all findings at once."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from trainkit.packs.base import Sourced
from trainkit.packs.findings import PackFinding, Path, Severity, key_of, shorten
from trainkit.packs.pack import Pack
from trainkit.packs.places import Places
from trainkit.packs.rules import RULES, Breach, Case
from trainkit.packs.schema import Document
from trainkit.packs.shape import decode, read


@dataclass(frozen=True, slots=True)
class Examination:
    """A pack and everything that was found about it.

    Parameters
    ----------
    pack : Pack or None
        The pack, unless something about it is refused.
    findings : tuple of PackFinding
        By line.
    place : str
        The file, as it was named.
    """

    pack: Pack | None
    findings: tuple[PackFinding, ...]
    place: str

    def of(self, severity: Severity) -> tuple[PackFinding, ...]:
        """Return the findings of one severity."""
        return tuple(finding for finding in self.findings if finding.severity == severity)


def examine_bytes(
    content: bytes, place: str, misconceptions: Collection[str] | None = None, *, judged: bool = True
) -> Examination:
    """Examine the bytes of a pack that stands at ``place``.

    Parameters
    ----------
    content : bytes
        The file.
    place : str
        Its name, for the findings.
    misconceptions : collection of str, optional
        Codes of the catalogue, where what precedence ``shows`` is to be held against it.
    judged : bool
        Whether the rules are applied. Without them only text and shape can be refused.

    Examples
    --------
    >>> found = examine_bytes(b"format = 1", "mine.toml")
    >>> found.pack is None, found.findings[0].code
    (True, 'key-missing')
    """
    text, findings = decode(content, place)
    if findings:
        return Examination(None, findings, place)
    places = Places(text)
    sections, values, findings = read(text, place, places)
    if values is None:
        return Examination(None, findings, place)
    document = Document.model_construct(**values)
    if judged:
        case = Case(document, misconceptions)
        faults = [fault for needs, rule in RULES if needs <= sections for fault in rule(case)]
        findings += tuple(dict.fromkeys(_found(faults, document, sections, place, places)))
    if missing := sorted(_SECTIONS - sections):
        findings += (_not_judged(missing, place),)
    findings = tuple(sorted(findings, key=lambda finding: (not finding.line, finding.line, finding.key, finding.code)))
    if any(finding.severity == "refuse" for finding in findings):
        return Examination(None, findings, place)
    digest = hashlib.sha256(content).hexdigest()
    pack = Pack.model_construct(**values, digest=digest, place=place, accepted=not judged)
    return Examination(pack, findings, place)


_SECTIONS = frozenset(field.alias or name for name, field in Document.model_fields.items())
_ATTRIBUTES = {field.alias: name for name, field in Document.model_fields.items() if field.alias}


def _found(
    judged: list[Breach], document: Document, sections: frozenset[str], place: str, places: Places
) -> Iterator[PackFinding]:
    """Give each fault its line and its severity, and hold what was accepted as printed against it."""
    manual = "notice" in sections and document.provenance.values == "manual"
    entries = dict(_sourced(document, sections))
    used: set[tuple[Path, str]] = set()
    for fault in judged:
        accepted = False
        for length in range(len(fault.path), 0, -1):
            entry = entries.get(fault.path[:length])
            if entry is not None and fault.code in entry.as_printed:
                used.add((fault.path[:length], fault.code))
                accepted = True
        yield _weighed(fault, manual, accepted, place, places)
    for path, entry in entries.items():
        for number, code in enumerate(entry.as_printed):
            at = (*path, "as_printed", number)
            if not manual:
                fault = Breach(
                    "as-printed-without-manual",
                    at,
                    code,
                    "Only what a manual prints can be accepted as printed; these values come from none.",
                    "Delete it and correct the value.",
                )
            elif (path, code) not in used:
                fault = Breach(
                    "acceptance-unused",
                    at,
                    code,
                    "Nothing of this code is found here.",
                    "Delete it, so that a later finding is not accepted unseen.",
                    "remark",
                )
            else:
                continue
            yield _weighed(fault, manual, False, place, places)


_SEVERITIES: dict[str, Severity] = {"remark": "note", "unstated": "warn"}


def _weighed(fault: Breach, manual: bool, accepted: bool, place: str, places: Places) -> PackFinding:
    severity = _SEVERITIES.get(fault.weight, "refuse")
    remedy = fault.remedy
    if fault.weight == "printed" and manual:
        if accepted:
            severity, remedy = "note", "Accepted as printed."
        else:
            severity = "warn"
            remedy = (
                f"Check your entry; the manual wins. {remedy} "
                f'If the manual prints it so, add as_printed = ["{fault.code}"] to this table.'
            )
    return PackFinding(
        fault.code,
        severity,
        place,
        places.line(fault.path),
        shorten(key_of(fault.path), 200),
        shorten(fault.value),
        fault.rule,
        remedy,
    )


def _sourced(document: Document, sections: frozenset[str]) -> Iterator[tuple[Path, Sourced]]:
    """Yield every entry that a manual may have printed, with its path."""
    for section in sorted(sections):
        value = getattr(document, _ATTRIBUTES.get(section, section), None)
        if isinstance(value, Sourced):
            yield (section,), value
        for number, entry in enumerate(value if isinstance(value, tuple) else ()):
            if isinstance(entry, Sourced):
                yield (section, number), entry
            for inner, stage in enumerate(getattr(entry, "stages", ())):
                yield (section, number, "stages", inner), stage


def _not_judged(missing: list[str], place: str) -> PackFinding:
    return PackFinding(
        "sections-not-judged",
        "note",
        place,
        0,
        "",
        ", ".join(missing),
        "What rests on these sections is judged once their shape is right.",
        "Mend them and check again.",
    )
