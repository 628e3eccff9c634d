"""The parts of a job, taken apart and built up step by step; a step that comes too early shows what follows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import ItemError
from trainkit.packs import reasons
from trainkit.packs.precedences import sources
from trainkit.widgets.instruments import parts_words as words
from trainkit.widgets.instruments.base import Instrument

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from trainkit.packs import Pack
    from trainkit.packs.work import Part, Step
    from trainkit.procedures import Edge


_LONG = 4  # axes that are longer stand first, in the order in which their steps come
_TOOLS = {"pin": "pin", "bar": "bar", "lifting": "strap"}


class TakenApart(Instrument):
    """The parts, fasteners and tools that the steps of a pack move.

    Parameters
    ----------
    pack : Pack
        The engine.
    configuration : str, optional
        Which variant of the job; by default the standard one.

    Raises
    ------
    ItemError
        If the pack has no steps, or none of them moves anything.
    PackError
        If there is no such configuration.
    """

    kind = "parts"
    heading = words.HEADING

    def __init__(self, pack: Pack, configuration: str = "") -> None:
        super().__init__()
        self.pack = pack
        self.configuration = configuration
        self.procedure = pack.procedure(configuration)
        self.steps = pack.steps_of(configuration)
        if not self.steps:
            raise ItemError(pack.name, rule=words.NO_STEPS, remedy=words.ADD_STEPS)
        self.moves = {step.id: tuple(self._moves(step)) for step in self.steps}
        self.pieces = tuple(dict.fromkeys(piece for moves in self.moves.values() for piece, _, _ in moves))
        if not self.pieces:
            raise ItemError(pack.name, rule=words.NO_PIECES, remedy=words.MORE_PIECES)
        self.axes = self._axes()

    @property
    def lead(self) -> tuple[str, ...]:
        """What one does with it."""
        return words.LEAD

    def _moves(self, step: Step) -> Iterator[tuple[str, bool, str]]:
        """Yield what a step moves: the piece, whether it is on then, and its state in a word."""
        # What one step takes off and fits again, as from the old unit to the new one, is where it was.
        both = set(step.takes_off) & set(step.fits)
        if step.loosens:
            yield f"fastener {step.loosens}", False, "loosened"
        yield from ((f"part {part}", False, "off") for part in step.takes_off if part not in both)
        yield from ((f"part {part}", True, "on") for part in step.fits if part not in both)
        if step.fastener:
            yield f"fastener {step.fastener}", True, step.stage or "on"
        yield from ((f"tool {tool}", True, "on") for tool in step.puts_on)
        if step.pin in ("in", "out"):
            yield f"tool {step.tool}", step.pin == "in", step.pin
        yield from ((f"tool {tool}", False, "away") for tool in step.takes_away)

    def starts_on(self, piece: str) -> bool:
        """Tell whether a piece is on before the first step: what is moved off first is on."""
        moved = (on for moves in self.moves.values() for each, on, _ in moves if each == piece)
        return not next(moved)

    def _axes(self) -> tuple[tuple[str, ...], ...]:
        """Return the pieces by the joint they belong to, each from the inside out."""
        home = {piece: piece for piece in self.pieces}

        def root(piece: str) -> str:
            while home[piece] != piece:
                piece = home[piece]
            return piece

        def join(some: Iterable[str]) -> None:
            first, *others = some
            for other in others:
                home[root(other)] = root(first)

        # What one step moves belongs together, and a fastener to the part that waits for it, or that it waits for.
        fixed = {
            name: [piece for piece, _, _ in moves if not piece.startswith("tool ")]
            for name, moves in self.moves.items()
        }
        for moved in fixed.values():
            if moved:
                join(moved)
        for edge in self.procedure.before:
            one, other = fixed[edge.before], fixed[edge.after]
            alone = [each for each in (one, other) if each and all(piece.startswith("fastener ") for piece in each)]
            parted = [each for each in (one, other) if any(piece.startswith("part ") for piece in each)]
            away = {
                on for name in (edge.before, edge.after) for piece, on, _ in self.moves[name] if piece in (*one, *other)
            }
            if (
                len(alone) == len(parted) == 1
                and len(away) == 1
                and root(alone[0][0]) == alone[0][0]
                and self._lone(alone[0][0], fixed)
            ):
                join((parted[0][0], *alone[0]))
        axes: dict[str, list[str]] = {}
        for piece in self.pieces:
            axes.setdefault(root(piece), []).append(piece)
        # What comes off first lies farthest out.
        found = [tuple(reversed(axis)) for axis in axes.values()]
        return tuple(sorted(found, key=lambda axis: -min(len(axis), _LONG)))

    @staticmethod
    def _lone(fastener: str, fixed: Mapping[str, Sequence[str]]) -> bool:
        return all(set(moved) <= {fastener} for moved in fixed.values() if fastener in moved)

    def name_of(self, piece: str) -> str:
        """Return what people call a piece."""
        return str(self._entry(piece).name)

    def _entry(self, piece: str) -> Any:
        sort, _, name = piece.partition(" ")
        return {"part": self.pack.part, "fastener": self.pack.fastener, "tool": self.pack.tool}[sort](name)

    def _sort(self, piece: str) -> str:
        """Return the shape of a piece, by what the pack says of it and never by its name."""
        sort, _, _ = piece.partition(" ")
        entry = self._entry(piece)
        if sort == "fastener":
            return "bolt"
        return _TOOLS.get(entry.kind, "tray") if sort == "tool" else _part_sort(entry)

    def _picture(self, on: Mapping[str, bool]) -> dict[str, Any]:
        return {
            "draw": "parts",
            "axes": [
                [
                    {
                        "id": piece,
                        "name": self.name_of(piece),
                        "sort": self._sort(piece),
                        "count": 1 if piece.startswith("tool ") else self._entry(piece).count,
                        "on": on[piece],
                    }
                    for piece in axis
                ]
                for axis in self.axes
            ],
        }

    def _figure(self) -> figures.Picture:
        # In print and without a kernel everything is drawn apart.
        return figures.Picture(self._picture(dict.fromkeys(self.pieces, False)))

    def _facts(self) -> Sequence[tuple[str, str]]:
        pieces = [piece for axis in self.axes for piece in axis]
        return [(str(number), self.name_of(piece)) for number, piece in enumerate(pieces, start=1)]

    def _more(self) -> dict[str, Any]:
        needs, dangers = self.needs(), self.dangers()
        return {
            "figure": figures.draw(self._picture({piece: self.starts_on(piece) for piece in self.pieces})),
            "pieces": [
                {"id": piece, "text": self.name_of(piece), "on": self.starts_on(piece)}
                for axis in self.axes
                for piece in axis
            ],
            "energies": [{"id": each.id, "text": each.name} for each in self.pack.energies_of(self.configuration)],
            "steps": [
                {
                    "id": step.id,
                    "text": step.text,
                    "moves": [{"piece": piece, "on": on, "word": word} for piece, on, word in self.moves[step.id]],
                    "needs": needs[step.id],
                    "safe": list(step.makes_safe),
                    "proves": list(step.proves),
                    "live": list(step.restores),
                }
                for step in self.steps
            ],
            "dangers": dangers,
            "outcomes": dict(words.OUTCOMES),
            "unsafe": words.SAFETY_FIRST,
        }

    def dangers(self) -> list[dict[str, Any]]:
        """Return what can hurt somebody until it is proved: the steps it reaches, and those that come before them.

        Examples
        --------
        >>> from trainkit import packs
        >>> TakenApart(packs.load("dunlin")).dangers()[0]["reason"]
        'Until this is proved dead, the engine can turn over under your hands: starting battery.'
        """
        return [
            {
                "energy": source.energy.id,
                "reason": reasons.harm(source.energy),
                "gates": list(source.gates),
                "reaches": [
                    step
                    for step in source.reached
                    if all(self.procedure.comes_before(gate, step) for gate in source.gates)
                ],
            }
            for source in sources(self.pack, self.configuration)
            if source.gates
        ]

    def needs(self) -> dict[str, list[dict[str, Any]]]:
        """Return what each step waits for and what follows where it does not, the unsafe first."""
        found: dict[str, list[dict[str, Any]]] = {step.id: [] for step in self.steps}
        for edge in sorted(self.procedure.before, key=lambda each: not each.dangerous):
            found[edge.after].append(
                {
                    "before": edge.before,
                    "reason": edge.reason,
                    "outcome": self._outcome(edge),
                    "unsafe": edge.dangerous,
                }
            )
        return found

    def _outcome(self, edge: Edge) -> words.Outcome:
        """Return what sort of thing follows from the wrong order, by what the two steps do."""
        before, after = self.pack.step(edge.before), self.pack.step(edge.after)
        if before.makes_safe or before.proves or after.restores:
            return "exposed"
        if "count" in before.does:
            return "dirt"
        if any(self.pack.part(part).seals for part in before.parts) or "clean" in before.does:
            return "leaks"
        if edge.dangerous and (before.pin or after.pin or after.turns_engine):
            return "breaks"
        return "loose" if before.fastener else "blocked"


def _part_sort(part: Part) -> str:
    if part.seals:
        return "ring"
    if part.single_use:
        return "plate"
    if part.fate in ("return", "renew"):
        return "body"
    return "several" if part.count > 1 else "cover"
