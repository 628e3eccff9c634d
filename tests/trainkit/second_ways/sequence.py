"""Second ways to the items on the order of the work, by brute force over the pack's own edges.

Nothing here judges by :mod:`trainkit.procedures`: what has to come before what is closed by hand, places are tried one
by one. What follows from energies and pins is taken as it is derived; ``test_safe_orders.py`` holds that.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Hashable, Sequence
from functools import cache

from tests.trainkit.second_ways import Sorts, Way
from tests.trainkit.second_ways.reading import pack, told
from trainkit.items.kinds import (
    Bond,
    ChoiceItem,
    ChoiceKey,
    GridItem,
    GridKey,
    InsertItem,
    InsertKey,
    Item,
    Key,
    OrderItem,
    OrderKey,
)
from trainkit.packs.mechanics import written as written_edges
from trainkit.packs.precedences import all_edges
from trainkit.procedures import Edge

Pairs = frozenset[tuple[str, str]]
STANDARD = "the standard one"
FOUND = ("Found cracked", "Lies there new, in its bag", "Came out by chance, sound")


def closed(pairs: set[tuple[str, str]], steps: Sequence[str]) -> Pairs:
    """Return Warshall's closure."""
    known = set(pairs)
    for middle in steps:
        into = [first for first, second in known if second == middle]
        out = [second for first, second in known if first == middle]
        known |= set(itertools.product(into, out))
    return frozenset(known)


@cache
def bonds(engine: str, steps: frozenset[str], dangerous_only: bool) -> Pairs:
    """Return all pairs in order among the steps of a variant; a step of another variant orders nothing here."""
    (name,) = {
        name for name in ("", *(each.id for each in pack(engine).configurations)) if _named(name, engine) == steps
    }
    edges = {
        (edge.before, edge.after)
        for edge in edges_of(name, engine)
        if {edge.before, edge.after} <= steps and (edge.dangerous or not dangerous_only)
    }
    return closed(edges, sorted(steps))


@cache
def edges_of(configuration: str, engine: str) -> tuple[Edge[str], ...]:
    """Return the edges of a configuration, written or derived."""
    known, edges, _ = written_edges(pack(engine), configuration)
    return tuple(all_edges(pack(engine), configuration, known, edges))


def _named(configuration: str, engine: str) -> frozenset[str]:
    name = pack(engine).configuration(configuration).name if configuration else STANDARD
    return _steps_of(name, engine)


def edges_told(item: Item, engine: str) -> tuple[Edge[str], ...]:
    """Return the edges of the variant that an item is about."""
    names = {STANDARD: "", **{each.name: each.id for each in pack(engine).configurations}}
    return edges_of(names[told(item)["This set is"]], engine)


def precedence(item: Item, engine: str) -> Pairs:
    """Return all pairs in order in the variant that an item is about."""
    return bonds(engine, steps_of(item, engine), False)


def danger(item: Item, engine: str) -> Pairs:
    """Return the pairs that dangerous edges alone put in order."""
    return bonds(engine, steps_of(item, engine), True)


def steps_of(item: Item, engine: str) -> frozenset[str]:
    """Return the steps of the variant that the item names."""
    return _steps_of(told(item)["This set is"], engine)


@cache
def _steps_of(name: str, engine: str) -> frozenset[str]:
    tables = pack(engine)
    only_here = {step for each in tables.configurations for step in (*each.adds, *each.replaces.values())}
    steps = {step.id for step in tables.steps} - only_here
    for each in tables.configurations:
        if each.name == name:
            return frozenset(
                steps - set(each.drops) - set(each.replaces) | set(each.adds) | set(each.replaces.values())
            )
    assert name == STANDARD
    return frozenset(steps)


@cache
def by_text(engine: str) -> dict[str, str]:
    """Return the step that a card or option names, whether its full stop is written or not."""
    return {step.text.rstrip("."): step.id for step in pack(engine).steps}


def breaks(order: Sequence[str], pairs: Pairs) -> set[tuple[str, str]]:
    """Return the pairs that an order has the wrong way round."""
    return {(later, earlier) for earlier, later in itertools.combinations(order, 2) if (later, earlier) in pairs}


def fewest_moves(order: Sequence[str], pairs: Pairs) -> int:
    """Return how many steps have to move at least: all but the largest choice without a broken pair, all tried."""
    clashes = [1 << order.index(one) | 1 << order.index(other) for one, other in breaks(order, pairs)]
    kept = max(
        choice.bit_count() for choice in range(1 << len(order)) if not any(choice & clash == clash for clash in clashes)
    )
    return len(order) - kept


def written(item: Item, engine: str) -> list[str]:
    """Return a written order."""
    return [by_text(engine)[row.value] for row in item.given if row.label.isdigit()]


def cards(item: Item, engine: str) -> dict[str, str]:
    """Return the step on each card."""
    assert isinstance(item, OrderItem)
    return {card.id: by_text(engine)[card.text] for card in item.cards}


def said_by(key_bonds: Sequence[Bond], named: dict[str, str], dangerous_only: bool = False) -> Pairs:
    """Return the pairs that the bonds of a key put in order, closed."""
    said = {(named[bond.before], named[bond.after]) for bond in key_bonds if bond.dangerous or not dangerous_only}
    return closed(said, sorted(named.values()))


def put_in_order(item: Item, key: Key, engine: str) -> Hashable:
    """Close the edges of the pack; the key puts in order the same pairs, and calls the same ones dangerous."""
    assert isinstance(key, OrderKey)
    named = cards(item, engine)
    steps = set(named.values())
    assert steps <= steps_of(item, engine)
    assert len(steps) == len(named) in (7, 8)
    pairs = frozenset(pair for pair in precedence(item, engine) if set(pair) <= steps)
    assert len(pairs) >= 0.8 * len(named) * (len(named) - 1) / 2
    assert said_by(key.bonds, named) == pairs
    assert said_by(key.bonds, named, dangerous_only=True) == {
        pair for pair in danger(item, engine) if set(pair) <= steps
    }
    return len(named)


def find_fault(item: Item, key: Key, engine: str) -> Hashable:
    """Move every step of the list to every place; one alone repairs it."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    order, pairs = written(item, engine), precedence(item, engine)
    assert set(order) <= steps_of(item, engine)
    assert breaks(order, pairs)
    culprits = set()
    for step in order:
        rest = [one for one in order if one != step]
        if any(not breaks([*rest[:at], step, *rest[at:]], pairs) for at in range(len(order))):
            culprits.add(step)
    named = {option.id: by_text(engine)[option.text.partition(". ")[2]] for option in item.options}
    for option in item.options:
        assert order[int(option.text.partition(".")[0]) - 1] == named[option.id]
    assert culprits == {named[key.right]}
    return len(breaks(order, pairs))


def why_before(item: Item, key: Key, engine: str) -> Hashable:
    """Look up in the pack which of the reasons each line could have."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    texts = {option.id: option.text for option in item.options}
    assert len(set(texts.values())) == len(texts) == 4
    edges = edges_told(item, engine)
    (habit,) = [letter for letter, text in texts.items() if text not in {edge.reason for edge in edges}]
    explaining = Counter[str]()
    lines = paired(item, engine)
    assert len(lines) == 3
    for first, second in lines:
        of_pair = [edge.reason for edge in edges if (edge.before, edge.after) == (first, second)]
        if not of_pair:
            assert not {(first, second), (second, first)} & precedence(item, engine)
        (mine,) = [letter for letter, text in texts.items() if text in of_pair] if of_pair else [habit]
        explaining[mine] += 1
        for letter, text in texts.items():
            if letter not in (habit, mine):
                assert not {first, second} & answerable(text, edges, engine)
    assert {*texts} - {*explaining} == {key.right}
    bound = key.right == habit
    assert {*key.shows} == ({*texts} - {habit} if bound else {habit})
    harmful = bound and {*lines} <= danger(item, engine)
    assert set(key.critical) == ({*texts} - {habit} if harmful else set())
    return bound, harmful


def paired(item: Item, engine: str) -> list[tuple[str, str]]:
    """Return the two steps of each line of pairs."""
    written = [row.value[1:-1].split("” before “") for row in item.given if row.label.startswith("Line ")]
    return [(by_text(engine)[first], by_text(engine)[second]) for first, second in written]


def answerable(reason: str, edges: Sequence[Edge[str]], engine: str) -> set[str]:
    """Return the steps that a reason has to do with: of what follows by itself those that make safe or restore."""
    mine = [edge for edge in edges if edge.reason == reason]
    firsts, seconds = {edge.before for edge in mine}, {edge.after for edge in mine}
    if reason in {edge.reason for edge in pack(engine).precedence}:
        return firsts | seconds
    return firsts if len(firsts) <= len(seconds) else seconds


def forgotten_step(item: Item, key: Key, engine: str) -> Hashable:
    """Try the step at every place."""
    assert isinstance(item, InsertItem)
    assert isinstance(key, InsertKey)
    order = [by_text(engine)[card.text] for card in item.written]
    missing = by_text(engine)[item.missing.text]
    assert {*order, missing} <= steps_of(item, engine)
    named = {
        item.missing.id: missing,
        **{card.id: step for card, step in zip(item.written, order, strict=True)},
    }
    right = []
    for place in range(len(order) + 1):
        tried = [*order[:place], missing, *order[place:]]
        broken = breaks(tried, precedence(item, engine))
        right += [place] * (not broken)
        assert bool(breaks(tried, danger(item, engine))) == bool(
            breaks(tried, said_by(key.bonds, named, dangerous_only=True))
        )
    assert tuple(right) == key.right
    assert 1 <= len(right) <= 2
    return len(right)


def which_missing(item: Item, key: Key, engine: str) -> Hashable:
    """Try every option in the gap."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    order = written(item, engine)
    at = int(item.prompt.partition("Between the steps ")[2].split()[0])
    for option in item.options:
        step = by_text(engine)[option.text]
        assert step not in order
        here = step in steps_of(item, engine)
        assert (here and not breaks([*order[:at], step, *order[at:]], precedence(item, engine))) == (
            option.id == key.right
        )
        if not here:
            assert key.shows[option.id] == "other-configuration"
    right = next(by_text(engine)[option.text] for option in item.options if option.id == key.right)
    tied = {(edge.before, edge.after) for edge in edges_told(item, engine)}
    assert {(order[at - 1], right), (right, order[at])} <= tied
    return frozenset(key.shows.values())


def either_order(item: Item, key: Key, engine: str) -> Hashable:
    """Look for each pair among all pairs in order."""
    assert isinstance(item, ChoiceItem)
    assert isinstance(key, ChoiceKey)
    asks_free = "either order" in item.prompt
    assert asks_free or "does the order matter" in item.prompt
    harmful = set()
    for option in item.options:
        one, other = (by_text(engine)[part] for part in option.text[1:-1].split("” and “"))
        assert {one, other} <= steps_of(item, engine)
        bound = {(one, other), (other, one)} & precedence(item, engine)
        assert bool(bound) == ((option.id != key.right) == asks_free)
        if asks_free and bound & danger(item, engine):
            harmful.add(option.id)
    assert harmful == set(key.critical)
    if not asks_free:
        assert set(key.shows.values()) == {"learnt-by-heart"}
    return asks_free, bool(harmful)


def fate_of_parts(item: Item, key: Key, engine: str) -> Hashable:
    """Follow each part through the words and lists of the steps, without its written fate."""
    assert isinstance(item, GridItem)
    assert isinstance(key, GridKey)
    steps = [step for step in pack(engine).steps if step.id in steps_of(item, engine)]
    named = {part.name.lower(): part for part in pack(engine).parts}
    columns = {column.text: column.id for column in item.columns}
    assert len(columns) == 5
    met = set()
    found = {label: told(item).get(label, "").split("; ") for label in FOUND}
    for row in item.rows:
        part = named[row.text.lower()]
        (state,) = [label for label, names in found.items() if part.name in names] or ["sound"]
        off = [step for step in steps if part.id in step.takes_off]
        on = [step for step in steps if part.id in step.fits]
        sent = any("overhaul" in step.text or "send it back" in step.text for step in steps if part.id in step.handles)
        if state == "Found cracked":
            text = "Throw it away"
        elif state != "sound":
            assert (off and on) if "new" in state else not off
            text = "Put it in its place"
        elif not off:
            assert not on
            text = "Leave it where it is"
        elif sent:
            assert not on
            text = "Send it away for overhaul"
        elif not on or part.single_use:
            text = "Throw it away"
        elif off == on and "to the new" in off[0].text:
            text = "Move it over to the new part"
        else:
            text = "Put it in its place"
        assert key.right[row.id] == columns[text], row.text
        assert (part.name in told(item).get("To be used once only", "").split("; ")) == part.single_use
        met.add((text, state))
        # Who uses once more what holds a joint and serves once only may see it come loose; a cracked part may break.
        held = part.single_use and not set(part.name.lower().split()) & {
            *("gasket", "seal", "ring", "rings", "washer", "washers")
        }
        again = {f"{row.id} {columns[each]}" for each in columns if each.split()[0] in ("Put", "Move", "Leave")}
        harmful = state == "Found cracked" or (held and state == "sound")
        assert {pair for pair in key.critical if pair.split()[0] == row.id} == (again if harmful else set())
    assert len(item.rows) == len({row.text for row in item.rows}) == 6
    assert max(Counter(key.right.values()).values()) <= 2
    return frozenset(met)


WAYS: dict[str, Way] = {
    "sequence/put-in-order": put_in_order,
    "sequence/find-fault": find_fault,
    "sequence/why-before": why_before,
    "sequence/forgotten-step": forgotten_step,
    "sequence/which-missing": which_missing,
    "sequence/either-order": either_order,
    "sequence/fate-of-parts": fate_of_parts,
}


SORTS: dict[str, Sorts] = {name: lambda seen, _: len(seen) > 1 for name in WAYS if name != "sequence/which-missing"}
