"""The chain of receipts: each is sealed together with the seal of the one before it.

The key of the seals comes from the course's secret seed. So a receipt that was changed, added by hand or taken out of
the middle is found. ``arrivals-chain.json`` says where the chain begins and ends, and keeps the seals of receipts of
people who were forgotten. Marking puts the end that it met into the ledger (:func:`anchor`): from then on nothing
before it can be cut off unseen. The link is part of the receipt itself, so a killed command leaves a whole chain;
the file beside it is at most too old. Receipts that were taken before there was a chain have no link; they stay so.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from trainkit.journal import JOURNAL_FILE
from trainkit_grading.intake.receipts import RECORD_FILE, Link, Receipt, content_digest
from trainkit_grading.support.files import write_atomically

if TYPE_CHECKING:
    from pathlib import Path

    from trainkit_grading.course.folder import Course
    from trainkit_grading.course.seeds import Seed


_FETCH = "Fetch it from your backup."
_SHORT = 32  # so many signs of a seal stand in each entry of the ledger: 128 bits


class _Noted(BaseModel):
    """What ``arrivals-chain.json`` says: the first seal, place and seal of the last receipt, links that are gone."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal[1] = 1
    start: str = ""
    place: Annotated[int, Field(ge=0)] = 0
    seal: str = ""
    gone: tuple[Link, ...] = ()
    mac: str = ""

    def sealed(self, seed: Seed) -> str:
        """Return the seal of all this: without the seed nobody says who was forgotten."""
        return _keyed(seed, ["end", self.model_dump(mode="json", exclude={"mac"})])


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with what was kept: of whom and of which module (empty for nobody), where, and in words."""

    apprentice: str
    module: str
    place: str
    text: str


@dataclass(frozen=True, slots=True)
class Held:
    """What a look at everything that was kept came to.

    Parameters
    ----------
    receipts, unchained : int
        How many there are, and how many of them were taken before there was a chain.
    journals : frozenset of tuple
        Apprentice, module and SHA-256 of each journal that is as its receipt says.
    begun : str
        The first seal of the chain; empty where there is none.
    seals : mapping of int to str
        The seals by their place in the chain, those of people who were forgotten, too.
    faults : tuple of Fault
        What is wrong.
    """

    receipts: int
    unchained: int
    journals: frozenset[tuple[str, str, str]]
    begun: str
    seals: dict[int, str]
    faults: tuple[Fault, ...] = ()

    def fault_of(self, anchor: str) -> str:
        """Return what is wrong with the end of the chain that the ledger keeps; empty where nothing is.

        Examples
        --------
        >>> held = Held(2, 0, frozenset(), "aa", {1: "aa", 2: "bb"})
        >>> held.fault_of("aa 2 bb"), held.fault_of("aa 3 cc")
        ('', 'The ledger knows of 3 receipts, and the chain of receipts ends with number 2.')
        """
        begun, _, rest = anchor.partition(" ")
        place, _, seal = rest.partition(" ")
        if not anchor or self.seals.get(int(place), "")[:_SHORT] == seal:
            return ""
        if begun != self.begun[:_SHORT]:
            return "The chain of receipts is not the one that the ledger knows: it was begun anew, or is gone."
        last = max(self.seals, default=0)
        if last < int(place):
            return f"The ledger knows of {place} receipts, and the chain of receipts ends with number {last}."
        return f"Receipt {place} is not the one that the ledger knows."


class Chain:
    """The chain of a course folder while hand-ins are taken; the folder is read when the first one comes."""

    def __init__(self, course: Course, seed: Seed) -> None:
        self._course = course
        self._seed = seed
        self._noted: _Noted | None = None

    def linked(self, receipt: Receipt) -> Receipt:
        """Return a receipt with its place in the chain, at the end of it."""
        noted = _end(self._course) if self._noted is None else self._noted
        link = Link(place=noted.place + 1, before=noted.seal, seal=_seal(self._seed, receipt, noted.seal))
        self._noted = noted.model_copy(
            update={"start": noted.start or link.seal, "place": link.place, "seal": link.seal}
        )
        return receipt.model_copy(update={"link": link})

    def note(self, receipts: Iterable[Receipt]) -> None:
        """Write down where the chain ends, if that is new; after a killed command these receipts tell it."""
        there = _read(self._course) or _Noted()
        noted = _after(there if self._noted is None else self._noted, (of.link for of in receipts if of.link))
        if (noted.place, noted.seal) != (there.place, there.seal):
            _write(self._course, self._seed, noted)


def anchor(course: Course) -> str:
    """Return what the ledger keeps of the chain: its first seal, and place and seal of its end; empty without one."""
    noted = _read(course)
    if noted is None or not noted.place:
        noted = _end(course)
    return f"{noted.start[:_SHORT]} {noted.place} {noted.seal[:_SHORT]}" if noted.place else ""


def release(course: Course, seed: Seed, apprentice: str) -> None:
    """Keep the links of somebody's receipts, and nothing else of them, before the receipts are removed."""
    links = [link for _, link in _links(course.arrivals.glob(f"{_literal(apprentice)}/*/*/{RECORD_FILE}"))]
    noted = _end(course)
    known = {link.place for link in noted.gone}
    fresh = [link for link in links if link.place not in known]
    if fresh:
        gone = sorted((*noted.gone, *fresh), key=lambda link: link.place)
        _write(course, seed, noted.model_copy(update={"gone": tuple(gone)}))


def look(course: Course, seed: Seed, *, sealed: bool = True) -> Held:
    """Hash everything that was kept, and hold it against its receipts and the chain.

    Without the seed (``sealed`` is false) no seal is computed; the chain must still hang together.
    """
    faults: list[Fault] = []
    noted = _read(course)
    if noted is None and course.arrivals_chain.exists():
        faults.append(Fault("", "", course.arrivals_chain.name, f"The file cannot be read. {_FETCH}"))
    noted = noted or _Noted()
    if sealed and noted.place and not hmac.compare_digest(noted.mac, noted.sealed(seed)):
        text = f"The file was changed after it was written. {_FETCH}"
        faults.append(Fault("", "", course.arrivals_chain.name, text))
        noted = _Noted()
    # Those who were forgotten: their seals bind what came after them, and are bound by it.
    links: dict[int, tuple[Link, str, str, str]] = {link.place: (link, "", "", "") for link in noted.gone}
    journals = set()
    unchained: list[tuple[Receipt, Fault]] = []
    begun: datetime | None = None
    count = 0
    for path in sorted(course.arrivals.glob("*/*/*")):
        if not path.is_dir():
            continue
        apprentice, module = path.parts[-3:-1]
        place = f"arrivals/{apprentice}/{module}/{path.name}"
        said = _receipt(path)
        if isinstance(said, str):
            faults.append(Fault(apprentice, module, place, said))
            continue
        receipt, digest = said
        count += 1
        if text := _fault(seed if sealed else None, receipt, digest, (apprentice, module, path.name)):
            faults.append(Fault(apprentice, module, place, text))
        else:
            journals.add((apprentice, module, digest))
        if receipt.link is None:
            text = f"The receipt has no place in the chain, which began before. {_FETCH}"
            unchained.append((receipt, Fault(apprentice, module, place, text)))
            continue
        begun = receipt.collected if begun is None else min(begun, receipt.collected)
        if receipt.link.place in links:
            faults.append(Fault(apprentice, module, place, f"Receipt {receipt.link.place} is there twice."))
        else:
            links[receipt.link.place] = (receipt.link, apprentice, module, place)
    faults += [fault for receipt, fault in unchained if begun is not None and receipt.collected > begun]
    faults += _broken(links, noted)
    seals = {number: link.seal for number, (link, *_) in sorted(links.items())}
    return Held(count, len(unchained), frozenset(journals), seals.get(1, ""), seals, tuple(faults))


def _broken(links: dict[int, tuple[Link, str, str, str]], noted: _Noted) -> Iterator[Fault]:
    """Yield where the chain is broken."""
    seal = ""
    last = max(links, default=0)
    for number in range(1, max(last, noted.place) + 1):
        if number not in links:
            text = f"Receipt {number} is gone, with what was handed in. Fetch the folder arrivals/ from your backup."
            yield Fault("", "", "arrivals", text)
            seal = ""
            continue
        link, apprentice, module, place = links[number]
        if seal != link.before and (number == 1 or number - 1 in links):
            text = f"Receipt {number} does not follow receipt {number - 1}: one of them was exchanged."
            yield Fault(apprentice, module, place or "arrivals", text)
        seal = link.seal
    if 0 < noted.place <= last and noted.place in links and links[noted.place][0].seal != noted.seal:
        yield Fault(
            "", "", "arrivals-chain.json", f"It knows another receipt {noted.place}. One of them was exchanged."
        )


def _fault(seed: Seed | None, receipt: Receipt, digest: str, where: tuple[str, str, str]) -> str:
    if digest != receipt.digest:
        return f"The journal is not the one that was collected. {_FETCH}"
    if (receipt.apprentice, receipt.module, receipt.folder_name) != where:
        return "The receipt belongs to another folder. Fetch arrivals/ from your backup."
    link = receipt.link
    if seed and link is not None and not hmac.compare_digest(_seal(seed, receipt, link.before), link.seal):
        return f"The receipt was changed after it was written. {_FETCH}"
    return ""


def _receipt(folder: Path) -> tuple[Receipt, str] | str:
    """Return a receipt and the SHA-256 of the journal beside it, or why they cannot be read."""
    try:
        receipt = Receipt.model_validate_json((folder / RECORD_FILE).read_bytes(), strict=False)
        return receipt, content_digest((folder / JOURNAL_FILE).read_bytes())
    except ValidationError:
        return f"The receipt cannot be read. {_FETCH}"
    except OSError as error:
        return f"Receipt or journal cannot be read ({error.strerror}). Fetch them from your backup."


def _seal(seed: Seed, receipt: Receipt, before: str) -> str:
    # What a later version adds to a receipt has a default, so receipts that lack it keep their seals.
    said = receipt.model_dump(mode="json", exclude_defaults=True, exclude={"link"})
    return _keyed(seed, [said, before])


def _keyed(seed: Seed, value: object) -> str:
    text = json.dumps(value, sort_keys=True, separators=(",", ":"))
    return hmac.new(seed.digest("receipts"), text.encode(), hashlib.sha256).hexdigest()


def _end(course: Course) -> _Noted:
    """Return where the chain ends: as it was noted, and what was kept since then."""
    links = (link for _, link in _links(course.arrivals.glob(f"*/*/*/{RECORD_FILE}")))
    return _after(_read(course) or _Noted(), links)


def _after(noted: _Noted, links: Iterable[Link]) -> _Noted:
    for link in sorted(links, key=lambda each: each.place):
        if link.place > noted.place:
            start = noted.start or link.seal
            noted = noted.model_copy(update={"start": start, "place": link.place, "seal": link.seal})
    return noted


def _links(paths: Iterable[Path]) -> Sequence[tuple[int, Link]]:
    """Return the links in these receipts in their order; what cannot be read is left to those who read receipts."""
    found = []
    for path in paths:
        try:
            said = json.loads(path.read_bytes()).get("link")
            if said is not None:
                link = Link.model_validate(said)
                found.append((link.place, link))
        except (OSError, ValueError, AttributeError, RecursionError):
            continue
    return sorted(found, key=lambda each: each[0])


def _literal(name: str) -> str:
    """Return a name so that a pattern of files means it alone."""
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in name)


def _read(course: Course) -> _Noted | None:
    try:
        return _Noted.model_validate_json(course.arrivals_chain.read_bytes(), strict=False)
    except (OSError, ValidationError):
        return None


def _write(course: Course, seed: Seed, noted: _Noted) -> None:
    sealed = noted.model_copy(update={"mac": noted.sealed(seed)})
    write_atomically(course.arrivals_chain, sealed.model_dump_json(indent=1) + "\n")
