"""Second ways to the items of *tightening*.

They read the tables of the pack's file; histories are followed bolt by bolt, orders are tried one by one, areas and
stresses stand in published tables.
"""

from __future__ import annotations

import cmath
import itertools
import math
import re
from collections.abc import Hashable
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from tests.outside.linear_train import raw
from tests.trainkit.second_ways import Sorts, Way
from tests.trainkit.second_ways.reading import read, told
from trainkit.items.kinds import (
    ChoiceItem,
    ChoiceKey,
    Item,
    Key,
    NumberKey,
    OrderItem,
    OrderKey,
    PointItem,
    PointKey,
    SeveralItem,
    SeveralKey,
)

Read = tuple[str, str, str]  # the least tight bolt, the tightest one, and what is amiss


def stage_in(words: str) -> str:
    return next(
        stage for stage in ("finger-tight", "snug", "first", "final", "loose") if re.search(rf"\b{stage}\b", words)
    )


def lived_through(item: Item) -> Read:
    """Follow the written lines bolt by bolt, each line at one blow, and look for what is amiss with each of them."""
    return followed(told(item))


class Followed:
    """The bolts of a joint, each with the stages since it was last loose."""

    def __init__(self, lines: dict[str, str]) -> None:
        self.stages = [part.partition(",")[0] for part in lines["Stages"].split("; ")]
        found = re.search(r"\((\d+)\)", lines["Joint"])
        self.bolts = list(range(1, int(found[1]) + 1 if found else 2))
        self.once = "To be used" in lines
        self.climbed: dict[int, list[str]] = {bolt: [] for bolt in self.bolts}
        self.served = dict.fromkeys(self.bolts, False)  # has been to final and is not new any more
        self.amiss: set[str] = set()

    def height(self, bolt: int) -> int:
        return self.stages.index(self.climbed[bolt][-1]) + 1 if self.climbed[bolt] else 0

    def climb(self, which: list[int], stage: str) -> None:
        for bolt in which:
            if self.served[bolt]:
                self.amiss.add("reused")
            self.climbed[bolt].append(stage)
            if self.climbed[bolt] != self.stages[: len(self.climbed[bolt])]:
                self.amiss.add("skipped")
        if max(map(self.height, self.bolts)) - min(map(self.height, self.bolts)) > 1:
            self.amiss.add("ahead")

    def loosen(self, which: list[int]) -> None:
        if len(which) < len(self.bolts):
            self.amiss.add("disturbed")
        for bolt in which:
            self.served[bolt] |= self.once and "final" in self.climbed[bolt]
            self.climbed[bolt] = []
        if not any(self.climbed.values()):
            self.amiss.clear()

    def follow(self, line: str) -> None:
        who = re.match(r"(?:Bolt|Screw|Nut|Plug)s? ([0-9, and]+) [a-z]", line)
        which = [int(number) for number in re.findall(r"\d+", who[1])] if who else self.bolts
        if " loosened" in line:
            self.loosen(which)
        elif line.startswith("New "):
            self.served = dict.fromkeys(self.bolts, False)
        elif line.startswith("One "):
            for bolt in self.bolts:
                for part in line.partition("brought to ")[2].split(", then to "):
                    self.climb([bolt], stage_in(part))
        else:
            self.climb(which, stage_in(line))


def followed(lines: dict[str, str]) -> Read:
    joint = Followed(lines)
    for label, line in lines.items():
        if label.isdigit():
            joint.follow(line)
    heights = sorted(map(joint.height, joint.bolts))
    low, high = (joint.stages[place - 1] if place else "loose" for place in (heights[0], heights[-1]))
    return low, high, next((flaw for flaw in ("reused", "skipped", "ahead", "disturbed") if flaw in joint.amiss), "")


# What comes next, by a word of the option, and for which states of a joint that is right.
NEXT = {
    "Nothing more": "finished",
    "further": "on",
    "same stage": "rest",
    "renew them": "renew",
    "begin again": "again",
}


def comes_next(state: Read, once: bool) -> str:
    """Say what a good mechanic does next."""
    low, high, flaw = state
    if flaw:
        return "renew" if once and (flaw == "reused" or high == "final") else "again"
    if low != high:
        return "rest"
    return "finished" if high == "final" else "on"


def after_history(item: Item, key: Key, engine: str) -> Hashable:
    """Follow each bolt through the lines."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    found = lived_through(item)
    right = comes_next(found, "To be used" in told(item))
    says = {option.id: next(what for sign, what in NEXT.items() if sign in option.text) for option in item.options}
    assert sorted(says.values()) == sorted(NEXT.values())
    assert [option for option, what in says.items() if what == right] == [key.right]
    # To take for final what is not would leave the joint as it is.
    assert set(key.critical) == {option for option, what in says.items() if what == "finished"} - {key.right}
    return right, found[2]


def unfolded(item: Item, history: str) -> dict[str, str]:
    """Write a history that is told in short as the lines of one that is told at length, a stage a line."""
    lines: list[str] = []
    for sentence in history.removesuffix(".").split(". "):
        who, colon, stages = sentence.partition(": ")
        lines += [f"{who} {stage}" for stage in stages.split(", then ")] if colon else [sentence]
    return told(item) | {str(number): line for number, line in enumerate(lines, 1)}


def which_are_finished(item: Item, key: Key, engine: str) -> Hashable:
    """Follow each bolt of each joint."""
    assert isinstance(item, SeveralItem)
    assert isinstance(key, SeveralKey)
    found = {option.id: followed(unfolded(item, option.text)) for option in item.options}
    finished = {option for option, state in found.items() if state == ("final", "final", "")}
    asked = "finished, with nothing more" in item.prompt
    assert asked != ("still something to do" in item.prompt)
    assert set(key.right) == (finished if asked else found.keys() - finished)
    assert 1 < len(finished) < 4
    assert set(key.critical) == found.keys() - finished
    for option, (low, high, flaw) in found.items():
        if option in finished:
            assert key.shows[option] == "a-little-more"
            continue
        # What somebody overlooks who takes it for finished.
        signs = {
            "first-for-final": (low, high, flaw) == ("first", "first", ""),
            "tightest-for-all": low != high == "final" and not flaw,
            "stage-skipped": flaw == "skipped",
            "one-to-final-first": flaw == "ahead",
            "single-use-reused": flaw == "reused",
            "loosening-overlooked": flaw == "disturbed",
        }
        assert [code for code, sign in signs.items() if sign] == [key.shows[option]]
    wrong = [key.shows[option] for option in key.critical]
    assert len(wrong) == len(set(wrong)) >= 3
    return frozenset((asked, code) for code in wrong)


@cache
def least(places: tuple[complex, ...], taken: frozenset[int]) -> float:
    """The least cost of the way on from a set of bolts, by the definition of cost in the trade's terms."""
    left = [bolt for bolt in range(len(places)) if bolt not in taken]
    return min((paid(places, taken | {bolt}) + least(places, taken | {bolt}) for bolt in left), default=0.0)


@cache
def paid(places: tuple[complex, ...], taken: frozenset[int]) -> float:
    mean = sum(map(abs, places)) / len(places)
    moment = sum(places[bolt] for bolt in taken) / mean
    double = sum(cmath.exp(2j * cmath.phase(places[bolt])) for bolt in taken)
    return abs(moment) ** 2 + abs(double) ** 2 / 16


def next_by_trying(places: list[complex], done: list[int]) -> set[int]:
    """Try every order of the rest, where there are few; else only every set. A picture rounds to 0.01 mm."""
    left = [bolt for bolt in range(len(places)) if bolt not in done]
    centre = sum(places) / len(places)
    about = tuple(place - centre for place in places)
    if len(left) <= 6:
        costs = {
            order: sum(paid(about, frozenset([*done, *order[: at + 1]])) for at in range(len(order)))
            for order in itertools.permutations(left)
        }
        return {order[0] for order, cost in costs.items() if cost < min(costs.values()) + 1e-3}
    costs_of = {at: sum(cost(about, frozenset([*done, at])) for cost in (paid, least)) for at in left}
    return {bolt for bolt, cost in costs_of.items() if cost < min(costs_of.values()) + 1e-3}


def bolts_of(item: Item) -> tuple[list[str], list[complex], list[int]]:
    """Names, places and order so far, as the picture shows them."""
    assert item.figure is not None
    shown = item.figure["bolts"]
    done = sorted((bolt["done"], at) for at, bolt in enumerate(shown) if "done" in bolt)
    return [bolt["id"] for bolt in shown], [complex(bolt["x"], bolt["y"]) for bolt in shown], [at for _, at in done]


def next_bolt(item: Item, key: Key, engine: str) -> Hashable:
    """Try every order of the bolts that are left."""
    assert isinstance(item, PointItem)
    assert isinstance(key, PointKey)
    bolts, places, done = bolts_of(item)
    assert [target.id for target in item.targets] == bolts
    if "Printed order" in told(item):
        order = told(item)["Printed order"].split(", ")
        assert (sorted(order), order[: len(done)]) == (sorted(bolts), [bolts[at] for at in done])
        right = {bolts.index(order[len(done)])}
    elif all(place.imag == 0 for place in places):
        left = [at for at in range(len(places)) if at not in done]
        nearest = min(abs(places[at]) for at in left)
        right = {at for at in left if abs(places[at]) < nearest + 1}
    else:
        right = next_by_trying(places, done)
    assert {bolts[at] for at in right} == set(key.right)
    assert len(right) < len(bolts) - len(done)
    assert told(item)["At the next stage already"] == (", ".join(bolts[at] for at in done) or "none")
    if "example" not in told(item)["Joint"]:
        return "of the engine itself, as printed"
    words = re.search(r"(\d+) (round a circle|in a row), example for this question only$", told(item)["Joint"])
    assert words is not None
    assert int(words[1]) == len(bolts)
    return words[2]


SIGNS = {
    "finger-tight": "finger",
    "snug": "snug",
    "first stage": "first",
    "final stage": "final",
    "Fit the part": "fit",
    "Shift the part": "move",
    "Line the part up": "set",
    "Check": "check",
    "witness mark": "mark",
}


def allowed(order: list[str]) -> bool:
    """Walk through an order and ask at each card whether a good mechanic would do it now."""
    done: set[str] = set()
    stages = [stage for stage in ("finger", "snug", "first", "final") if stage in order]
    for card in order:
        tightened = [stage for stage in stages if stage in done]
        held = bool({"first", "final"} & done)
        if card in stages:
            fine = tightened == stages[: stages.index(card)]
        elif card in ("fit", "move"):
            fine = not held
        elif card == "set":
            fine = bool(tightened) and "final" not in done
        elif card == "check":
            fine = len(tightened) >= len(stages) - 1 and ("set" in done or "set" not in order)
        else:
            fine = "final" in done and ("check" in done or "check" not in order)
        if not fine:
            return False
        done.add(card)
    return True


def stages_in_order(item: Item, key: Key, engine: str) -> Hashable:
    """Walk through every order of the cards as a good mechanic would."""
    assert isinstance(item, OrderItem)
    assert isinstance(key, OrderKey)
    cards = {card.id: next(short for sign, short in SIGNS.items() if sign in card.text) for card in item.cards}
    assert len(set(cards.values())) == len(cards) >= 5
    kind = tuple(sorted(cards.values()))
    assert exactly_right(kind, frozenset((cards[bond.before], cards[bond.after]) for bond in key.bonds))
    harm = {("set", "final"), ("check", "mark"), ("final", "mark")}
    for bond in key.bonds:
        assert bond.dangerous == ((cards[bond.before], cards[bond.after]) in harm)
    orders = len(good_orders(kind))
    closing = "The only right order" if orders == 1 else f"{orders} right orders"
    assert any(closing in line for line in key.working)
    return kind


@cache
def good_orders(cards: tuple[str, ...]) -> frozenset[tuple[str, ...]]:
    """Return the orders in which a good mechanic would do it."""
    found = frozenset(order for order in itertools.permutations(cards) if allowed(list(order)))
    assert found
    return found


@cache
def exactly_right(cards: tuple[str, ...], bonds: frozenset[tuple[str, str]]) -> bool:
    """Tell whether the orders that break no bond are those of a good mechanic, and no others."""
    unbroken = {
        order
        for order in itertools.permutations(cards)
        if all(order.index(before) < order.index(after) for before, after in bonds)
    }
    return unbroken == good_orders(cards)


def millimetres(thread: str) -> Fraction:
    """The nominal diameter out of a designation as the file has it."""
    if found := re.match(r"M([0-9.]+)", thread):
        return Fraction(found[1])
    found = re.match(r"([0-9]+)/([0-9]+)-", thread)
    assert found is not None
    return Fraction(int(found[1]), int(found[2])) * Fraction("25.4")


def to_step(value: Fraction, step: str) -> float:
    exact = Decimal(value.numerator) / Decimal(value.denominator)
    return float(exact.quantize(Decimal(step), ROUND_HALF_UP))


def preload(item: Item, key: Key, engine: str) -> Hashable:
    """Divide in fractions, with the diameter out of the designation."""
    assert isinstance(key, NumberKey)
    lines = told(item)
    torque, unit = read(lines["Torque"])
    assert unit == "N·m"
    condition = re.search(r"The thread is (dry|oiled)", item.prompt)
    assert condition is not None
    factor = Fraction(lines[f"Nut factor K, {condition[1]} thread"])
    assert key.answer == pytest.approx(to_step(Fraction(torque) / (factor * millimetres(lines["Thread"])), "0.1"))
    return condition[1]


# Stress areas in mm²: ISO 898-1, tables of coarse and fine pitch; M4 and M10×1 from memory.
AREAS = {
    "M4": "8.78",
    "M6": "20.1",
    "M8": "36.6",
    "M8×1": "39.2",
    "M10": "58.0",
    "M10×1.25": "61.2",
    "M10×1": "64.5",
    "M12": "84.3",
    "M12×1.5": "88.1",
    "M12×1.25": "92.1",
    "M14": "115",
    "M14×1.5": "125",
    "M16": "157",
    "M16×1.5": "167",
}


# Proof stress in MPa: ISO 898-1:2013 table 3 up to 16 mm. Proof strength in ksi: SAE J429 table 1; grade 2 from memory.
PROOF = {"class 5.8": 380, "class 8.8": 580, "class 10.9": 830, "class 12.9": 970}


KSI = {"grade 2": 55, "grade 5": 85, "grade 8": 120}


def use_of_proof_load(item: Item, key: Key, engine: str) -> None:
    """Look up area and stress in published tables."""
    assert isinstance(key, NumberKey)
    lines = told(item)
    grade, thread = lines["Marked on the head"], lines["Thread"]
    if thread.startswith("M"):
        area, proof = Decimal(AREAS[thread]), Decimal(PROOF[grade])
    else:
        # ASME B1.1: 0.7854 (D - 0.9743 / n)², in square inches.
        size, per_inch = millimetres(thread) / Fraction("25.4"), int(re.findall(r"-([0-9]+)", thread)[0])
        square = (float(size) - 0.9743 / per_inch) ** 2 * math.pi / 4
        area, proof = Decimal(f"{square * 645.16:.3g}"), Decimal(round(KSI[grade] * 6.894757))
    assert read(lines["Stress area"])[0] == area
    assert read(lines[grade.capitalize()].split("proof stress ")[1].split(",")[0])[0] == proof
    force, _ = read(lines["Preload of one"])
    assert key.answer == to_step(Fraction(100_000 * force) / Fraction(area * proof), "1")
    assert 0 < key.answer < 100


COARSE = {4: 0.7, 5: 0.8, 6: 1, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2, 16: 2, 18: 2.5, 20: 2.5, 22: 2.5, 24: 3}  # ISO 261


def thread_read(text: str) -> tuple[str, float]:
    """Diameter and pitch, or size and threads to the inch."""
    if text.startswith("M"):
        diameter, _, pitch = text[1:].partition("×")
        return diameter, float(pitch or COARSE[int(diameter)])
    size, _, rest = text.partition("-")
    return size, float(rest.split()[0])


def screw_read(text: str) -> tuple[tuple[str, float], int]:
    if text.startswith("M"):
        thread, _, length = text.rpartition("×")
        return thread_read(thread), int(length)
    found = re.fullmatch(r"(.+), ([0-9]+)\u2009mm long", text)
    assert found is not None
    return thread_read(found[1]), int(found[2])


def jacking_screw(item: Item, key: Key, engine: str) -> Hashable:
    """Compare each screw with the hole: diameter, pitch, length."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    lines = told(item)
    marked = lines["Marked beside the holes"]
    hole = thread_read(marked)
    needed = read(lines["Thickness of the flange"])[0] + read(lines["To be pressed off by"])[0]
    screws = {option.id: screw_read(option.text) for option in item.options}
    fit = {length: letter for letter, (thread, length) in screws.items() if thread == hole and length >= needed}
    assert fit[min(fit)] == key.right
    for letter, code in key.shows.items():
        thread, length = screws[letter]
        same_size, same_pitch = thread[0] == hole[0], thread[1] == hole[1]
        if code == "screw-too-short":
            assert thread == hole
            assert length < needed
        else:
            assert (same_size, same_pitch) == ((False, True) if code == "pitch-alone" else (True, False))
            # Where a pitch is written it may be taken for a length, and the coarse thread be meant.
            bare = next(option.text for option in item.options if option.id == letter).count("×") == 1
            assert same_pitch or (code == "pitch-read-as-length") == ("×" in marked and bare)
    return hole[0]


def not_again(item: Item, key: Key, engine: str) -> Hashable:
    """Look up each part in the file, and think of what it has been through."""
    parts = {part["name"]: part for part in raw(engine)["parts"]}
    assert isinstance(item, SeveralItem)
    assert isinstance(key, SeveralKey)
    sorts = set()
    may, once = set(), set()
    for option in item.options:
        name, _, past = option.text.partition(": ")
        single = parts[name].get("single_use", False)
        assert single or parts[name]["fate"] in ("refit", "transfer")
        assert (told(item).get(name[0].upper() + name[1:]) == "single-use") is single
        if "cracked" not in past and not (single and "taken off" in past):
            may.add(option.id)
        if single:
            once.add(option.id)
        sorts.add((name, option.id in may))
    asked = "may be fitted now" in item.prompt
    assert asked != ("must not be fitted" in item.prompt)
    assert set(key.right) == (may if asked else {option.id for option in item.options} - may)
    assert 3 <= len(may) <= 4
    assert len(item.options) == 7
    assert set(key.critical) <= once - may
    return frozenset(sorts)


WAYS: dict[str, Way] = {
    "tightening/after-history": after_history,
    "tightening/which-are-finished": which_are_finished,
    "tightening/next-bolt": next_bolt,
    "tightening/stages-in-order": stages_in_order,
    "tightening/preload": preload,
    "tightening/use-of-proof-load": use_of_proof_load,
    "tightening/jacking-screw": jacking_screw,
    "tightening/not-again": not_again,
}


def _parts(seen: frozenset[Any], engine: str) -> bool:
    """All parts that are single-use or go back, each as one that may be fitted and as one that may not."""
    met = frozenset[tuple[str, bool]]().union(*seen)
    parts = [
        part["name"]
        for part in raw(engine)["parts"]
        if part.get("single_use", False) or part["fate"] in ("refit", "transfer")
    ]
    return met == {(name, may) for name in parts for may in (True, False)} and 2 * len(met) >= 40


SORTS: dict[str, Sorts] = {
    "tightening/after-history": lambda seen, _: (
        {right for right, _ in seen} == set(NEXT.values())
        and {flaw for _, flaw in seen} == {"", "skipped", "ahead", "disturbed", "reused"}
    ),
    # Each belief is met, whether finished joints are asked for or those that are not.
    "tightening/which-are-finished": lambda seen, _: len(frozenset().union(*seen)) == 12,
    "tightening/next-bolt": lambda seen, _: seen == {"round a circle", "in a row"},
    "tightening/stages-in-order": lambda seen, _: len(seen) > 4,
    "tightening/preload": lambda seen, _: seen == {"dry", "oiled"},
    "tightening/jacking-screw": lambda seen, _: len(seen) >= 6,
    "tightening/not-again": _parts,
}
