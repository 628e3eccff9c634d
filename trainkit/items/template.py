"""Templates draw items: from a pack and a seeded generator to what is shown and what is right."""

from __future__ import annotations

import importlib
import math
import random
from abc import ABC, abstractmethod
from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, ClassVar, TypeVar

from trainkit.errors import DrawFault, ItemError
from trainkit.items.facts import Draw
from trainkit.items.kept import once_a_pack
from trainkit.items.lettering import discussed_as_shown
from trainkit.sentences import counted

if TYPE_CHECKING:
    from trainkit.packs import Pack


T = TypeVar("T")

# So much of an unexpected error is told.
_TOLD = 200
# The modules whose templates are known, and where they live.
_HOMES = {
    "torque-units": "trainkit.items.torque_units",
    "tightening": "trainkit.items.tightening",
    "turning-direction": "trainkit.items.turning_direction",
    "lock-pin": "trainkit.items.lock_pin",
    "lash-and-timing": "trainkit.items.lash_and_timing",
    "sequence": "trainkit.items.sequence",
    "capstone": "trainkit.items.capstone",
}


class Redraw(Exception):  # noqa: N818 - a signal between a template and its caller, never seen outside
    """The draw will not do (two rules collide, a key on a rounding edge); draw again."""


def redraw_if(unfit: object) -> None:
    """Ask for another draw where this one will not do."""
    if unfit:
        raise Redraw


def lacking(pack: Pack, needs: str, remedy: str) -> ItemError:
    """Return the error that says what a template needs and a pack does not have."""
    error = ItemError(
        pack.name, rule=f"This template needs {needs}.", remedy=f"{remedy}, or leave the template out of the blueprint."
    )
    error.needs = needs
    return error


def fault_of(template: str, pack: Pack, error: Exception) -> DrawFault:
    """Return what is said of an unexpected error in a draw: the template, the error in one line, whom to tell.

    Examples
    --------
    >>> from trainkit import packs
    >>> fault_of("lock-pin/what-next", packs.load("dunlin"), ZeroDivisionError("division by zero")).rule
    'A draw failed: ZeroDivisionError: division by zero.'
    """
    said = " ".join(f"{type(error).__name__}: {error}".split())[:_TOLD].rstrip(".: ")
    return DrawFault(
        template,
        place=pack.name,
        rule=f"A draw failed: {said}.",
        remedy="Report this to the makers of trainkit, with the pack.",
    )


@once_a_pack
def _unstated(pack: Pack) -> Mapping[str, tuple[str, ...]]:
    from trainkit.packs import unstated

    return unstated(pack)


def held_safe(module: str, pack: Pack) -> None:
    """Refuse an engine whose safety is not stated, where a module shows an order of work or a bench.

    A running course goes on with the pack that it gave out.

    Raises
    ------
    ItemError
        If the pack leaves out what that module needs; the rule says what.
    """
    if not pack.accepted and (needs := _unstated(pack).get(module)):
        more = f" and {counted(len(needs) - 1, 'other statement')} about safety" if len(needs) > 1 else ""
        raise lacking(pack, f"{needs[0]}{more}; the pack does not state it", "State it in the pack")


class Template(ABC):
    """Makes items of one sort.

    Class attributes
    ----------------
    name : str
        ``"<module>/<name>"``, unique.
    skill : str
        What it exercises, in words an apprentice understands.
    kind : str
        Kind of the response.
    weights : mapping of str to float
        What one of each feature adds to the difficulty, in steps of thought. The docstring says what the features
        are; the same ones come up in every draw.
    """

    name: ClassVar[str]
    skill: ClassVar[str]
    kind: ClassVar[str]
    weights: ClassVar[Mapping[str, float]]

    def draw(self, rng: random.Random, pack: Pack, *, shuffle: random.Random | None = None) -> Draw:
        """Draw one item and its key, with what is known of them.

        Parameters
        ----------
        rng : random.Random
            Seeded by the caller; the same seed and pack give the same draw.
        pack : Pack
            The engine.
        shuffle : random.Random, optional
            Independent generator for the order of options and cards, so that the order tells nothing about the
            draw. Without it one is derived from ``rng`` before anything else is drawn.

        Raises
        ------
        ItemError
            If the pack has nothing that this template could ask about.
        DrawFault
            If the template failed by a fault of its own; another draw may well succeed.
        """
        held_safe(self.name.partition("/")[0], pack)
        if shuffle is None:
            shuffle = random.Random(rng.getrandbits(128))  # noqa: S311 - chooses questions, guards no secret
        for _ in range(400):
            try:
                drawn = self.sketch(rng, pack, shuffle)
            except Redraw:
                continue
            except ItemError:
                raise
            except Exception as error:
                raise fault_of(self.name, pack, error) from error
            key = discussed_as_shown(drawn.item, drawn.key)
            return drawn if key is drawn.key else Draw(drawn.item, key, drawn.features, drawn.instead)
        failed = ItemError(
            pack.name,
            rule=f"The template {self.name} found no draw in 400 whose answers can be told apart.",
            remedy="Give the pack more values of this sort, or leave the template out of the blueprint.",
        )
        failed.needs = f"more different values for the question “{self.skill}”"
        raise failed

    def aimed(self, _shows: Iterable[str], /) -> Template:
        """Return a template that draws the same items, yet oftener such as can show these misconceptions.

        Where they are rare, much would be drawn for nothing otherwise. Most templates draw them often enough and return
        themselves.
        """
        return self

    def difficulty(self, features: Mapping[str, float]) -> float:
        """Return how hard a draw with these features is, in steps of thought; of use against others of its template.

        Examples
        --------
        >>> import random
        >>> from trainkit import packs
        >>> template = find("torque-units/convert")
        >>> template.difficulty(template.draw(random.Random(1), packs.load("dunlin")).features) > 0
        True
        """
        return math.fsum(self.weights[name] * count for name, count in features.items())

    @abstractmethod
    def sketch(self, rng: random.Random, pack: Pack, shuffle: random.Random, /) -> Draw:
        """Draw once, or raise :class:`Redraw`."""


class Unshuffled(Template):
    """Makes items in which nothing is shuffled."""

    def sketch(self, rng: random.Random, pack: Pack, _shuffle: random.Random, /) -> Draw:
        """Draw once, or raise :class:`Redraw`."""
        return self.pose(rng, pack)

    @abstractmethod
    def pose(self, rng: random.Random, pack: Pack) -> Draw:
        """Draw once, or raise :class:`Redraw`."""


def find(name: str) -> Template:
    """Return the template called ``"<module>/<name>"``.

    Raises
    ------
    ItemError
        If there is none; the rule lists those there are.
    """
    module = name.partition("/")[0]
    if module in _HOMES:
        for template in _of(module):
            if template.name == name:
                return template
    known = ", ".join(names(module) if module in _HOMES else names())
    raise ItemError(name, rule=f"The templates are: {known}.", remedy="Name one of them.")


def names(module: str | None = None) -> tuple[str, ...]:
    """Return the names of all templates, or of one module's."""
    homes: Iterable[str] = _HOMES if module is None else [module]
    return tuple(template.name for home in homes for template in _of(home))


def _of(module: str) -> Sequence[Template]:
    found: Sequence[Template] = importlib.import_module(_HOMES[module]).TEMPLATES
    return found


def shuffled(values: Iterable[T], shuffle: random.Random) -> list[T]:
    """Return the values in an order that depends on ``shuffle`` alone."""
    mixed = list(values)
    shuffle.shuffle(mixed)
    return mixed


def well_apart(values: Iterable[float], distance: float) -> bool:
    """Tell whether every two values are more than ``distance`` apart.

    Examples
    --------
    >>> well_apart([1.0, 3.0, 7.0], 1.5)
    True
    >>> well_apart([1.0, 2.0, 7.0], 1.5)
    False
    """
    ordered = sorted(values)
    return all(later - earlier > distance for earlier, later in pairwise(ordered))
