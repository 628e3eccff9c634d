"""Wrong rules of thought about the order of the work, and the functions that recognise or apply them.

Most are recognised from a pair of steps that stands the wrong way round. The pack says which pair shows which
(``shows`` of an edge), or what a step does with energies and pins says it (:mod:`trainkit.packs.precedences`); where
neither does, :data:`SIGNS` read it off the parts, the stages and the sort of work of the two steps.
The list is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from trainkit.errors import ItemError
from trainkit.items.misconceptions import Misconception, all_misconceptions

if TYPE_CHECKING:
    from trainkit.packs import Pack
    from trainkit.procedures import Edge


_TEXTS = {
    "lock-left-on": (
        "This order tightens against a timing lock that is still in.",
        "A lock only keeps a place; it must not take torque. Ask before each final stage: what still locks this?",
    ),
    "pin-out-last": (
        "This order leaves the lock pin in until the end.",
        "The pin only holds the gears still. Take it out before anything loads the train.",
    ),
    "stiff-pin-barred": (
        "This order turns the crank before the pin is known to move freely.",
        "A stiff pin gives a false feel. Try it in and out first, while nothing turns.",
    ),
    "mark-before-fixing": (
        "This order makes the witness mark before the position is final.",
        "A mark keeps what it sees. First fix, then check, then mark.",
    ),
    "clean-after-mating": (
        "This order mates the faces before they are clean and dry.",
        "What lies between the faces stays there. Clean and dry them while you can still see them.",
    ),
    "seal-reused": (
        "This order closes the joint before its new single-use part is in.",
        "Lay the new part on the bench before you close. What is used once is never used twice.",
    ),
    "cover-before-count": (
        "This order closes the gear case before the tools are counted.",
        "What is missing may lie among the gears. Count first, then close.",
    ),
    "stage-out-of-order": (
        "This order brings a fastener to a later stage before an earlier one.",
        "Each stage leaves a joint that the next one needs. Go through the stages one by one.",
    ),
    "work-before-proof": (
        "This order works within reach of a source that is not isolated and proved dead.",
        "Isolate, lock and prove each source first. Ask before each step: what could still move, burn or strike?",
    ),
    "proof-before-isolation": (
        "This order proves a source before it is isolated and locked.",
        "A proof holds only for what is locked. Isolate, lock, let down, and then prove.",
    ),
    "attempt-spoilt": (
        "This order tries the start while another link of the same path is open.",
        "An attempt proves one isolator only if every other link is closed. Try first, then open the next one.",
    ),
    "restored-too-soon": (
        "This order brings a source back while somebody is still within its reach.",
        "Finish the work, see that everybody is clear, and have the person in charge agree. Locks come off last.",
    ),
    "turned-against-pin": (
        "This order turns the engine while the lock pin is in.",
        "The bar shears the pin or bends a tooth. Look for the pin before you turn anything.",
    ),
    "bar-left-on": (
        "This order goes on with the bar still on while the lock pin is in.",
        "A knock at the bar turns the engine against the pin. Take the bar off as soon as the pin seats.",
    ),
    "set-unpinned": (
        "This order sets the position while nothing holds the gears.",
        "Gears that can move keep no setting. First pin, then set, then tighten to the stage that holds.",
    ),
    "other-configuration": (
        "This step belongs to another variant of the engine.",
        "Read first which variant stands before you. Then strike out what does not apply.",
    ),
    "shifted-by-one": (
        "The list was counted one place off.",
        "Do not count places. Ask of each step what it needs done first, and what waits for it.",
    ),
    "learnt-by-heart": (
        "The order is known by heart, but not its reason.",
        "Say for each pair what happens the other way round. Where nothing happens, either may come first.",
    ),
    "left-on-old-part": (
        "This answer leaves on the old part what the new one needs.",
        "Lay old and new side by side before the old one goes. What the new one lacks moves over.",
    ),
    "old-unit-scrapped": (
        "This answer throws away a part that goes for overhaul.",
        "A part for overhaul goes back whole. Cap it, label it, and keep it clean.",
    ),
    "damage-overlooked": (
        "This answer uses a cracked part again.",
        "Look at every part before it goes back. A cracked part is not fitted, whatever the sheet says of sound ones.",
    ),
    "stripped-too-far": (
        "This answer takes off a part that stays where it is.",
        "Only what is in the way comes off. What lines up or times the engine stays.",
    ),
}

MISCONCEPTIONS = tuple(Misconception(code, "sequence", *texts) for code, texts in _TEXTS.items())


def seal_reused(pack: Pack, edge: Edge) -> bool:
    """Tell whether the wrong order closes a joint without its new single-use part."""
    new = any(pack.part(part).single_use for part in pack.step(edge.before).fits)
    return new and bool(pack.step(edge.after).fits)


def stage_out_of_order(pack: Pack, edge: Edge) -> bool:
    """Tell whether the wrong order tightens one fastener to a later stage before an earlier one."""
    first, second = pack.step(edge.before), pack.step(edge.after)
    return bool(first.fastener) and first.fastener == second.fastener


def _does(first: str, then: str) -> Callable[[Pack, Edge], bool]:
    """Return the sign that one sort of work comes before another, as the steps say themselves."""

    def sign(pack: Pack, edge: Edge) -> bool:
        return first in pack.step(edge.before).does and then in pack.step(edge.after).does

    return sign


def clean_after_mating(pack: Pack, edge: Edge) -> bool:
    """Tell whether the wrong order mates faces before they are clean."""
    return "clean" in pack.step(edge.before).does and bool(pack.step(edge.after).fits)


def pinned_unknowing(pack: Pack, edge: Edge) -> bool:
    """Tell whether the wrong order pins the engine before the stroke is known."""
    return "tell-stroke" in pack.step(edge.before).does and pack.step(edge.after).pin == "in"


# What is read off the steps themselves, where the pack does not say what a wrong order shows.
SIGNS: dict[str, Callable[[Pack, Edge], bool]] = {
    "clean-after-mating": clean_after_mating,
    "cover-before-count": _does("count", "close"),
    "mark-before-fixing": _does("check", "mark"),
    "any-dead-centre": pinned_unknowing,
    "stage-out-of-order": stage_out_of_order,
    "seal-reused": seal_reused,
}


def shown_by(pack: Pack, edge: Edge) -> str:
    """Return the code of the misconception that the wrong order of an edge's steps shows, or nothing.

    Raises
    ------
    ItemError
        If the pack names a misconception that the catalogue does not have.
    """
    if edge.shows:
        if edge.shows not in all_misconceptions():
            raise ItemError(
                edge.shows,
                rule="What a wrong order shows is a misconception of the catalogue.",
                remedy="Correct `shows` of this edge in the pack, or leave it out.",
                place=f"{pack.name}: {edge.before} before {edge.after}",
            )
        return edge.shows
    return next((code for code, sign in SIGNS.items() if sign(pack, edge)), "")


def shifted_by_one(right: Sequence[str], written: Sequence[str]) -> str:
    """Return the step that somebody blames who counts along a list learnt by heart.

    It is the first one that does not stand at the place that it has in the list.

    Examples
    --------
    >>> shifted_by_one(["bar", "pin", "loosen"], ["pin", "loosen", "bar"])
    'pin'
    """
    return next(found for wanted, found in zip(right, written, strict=True) if wanted != found)
