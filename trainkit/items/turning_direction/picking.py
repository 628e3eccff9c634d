"""Gears to be picked: those that turn alike, and one on the picture."""

from __future__ import annotations

import random
from collections.abc import Mapping
from fractions import Fraction
from types import MappingProxyType
from typing import TYPE_CHECKING

from trainkit import gears
from trainkit.items import example_engines as examples
from trainkit.items import gearwork
from trainkit.items.facts import Draw
from trainkit.items.kinds import Option, PointItem, PointKey
from trainkit.items.questions import SeveralQuestion, SeveralTemplate
from trainkit.items.template import Unshuffled, redraw_if
from trainkit.items.turning_direction.rules import PICTURE_RULES, Sought, misjudged_alike

if TYPE_CHECKING:
    from trainkit.packs import Pack


MOST = 6
FEWEST = 3
# How often a right gear that is known by its name is drawn anew.
_SPARED = 0.6


class TurnAlike(SeveralTemplate):
    """All gears are to be taken that turn the same way as one of them.

    Difficulty: the gears offered, and the changes of sense on the ways to them, counted together.
    """

    name = "turning-direction/turn-alike"
    skill = "say which shafts turn alike"
    weights = MappingProxyType({"gears": 0.5, "changes": 0.25})

    def ask(self, rng: random.Random, _pack: Pack, /) -> SeveralQuestion[str]:
        """Draw once."""
        survey = examples.example(rng, 7, renamed=True).survey
        one = rng.choice(survey.names)
        ways = {name: survey.ways[one, name] for name in survey.names if name != one}
        # Where two kinds of link could be misjudged at once, a wrong answer would not say which was.
        clear = [name for name, way in ways.items() if len(misjudged_alike(way)) < 2]
        redraw_if(len(clear) < FEWEST)
        asked = rng.sample(clear, min(len(clear), rng.randint(FEWEST + 1, MOST)))
        alike = [name for name in asked if ways[name].ratio > 0]
        redraw_if(not 0 < len(alike) < len(asked))
        shows = _shows({name: ways[name] for name in asked})
        viewpoint = rng.choice(gears.VIEWPOINTS)
        shown = survey.between(one, asked)
        said = {name: _counted(ways[name]) for name in asked}
        return SeveralQuestion(
            prompt=f"Which of these turn the same way as the {survey.title(one)}? There may be more than one. "
            f"All of them are {gearwork.seen_from(viewpoint)}.",
            given=(examples.engine_row(), *survey.mesh_rows(shown)),
            figure=survey.picture(shown, viewpoint),
            texts={name: _capital(survey.title(name)) for name in asked},
            right=alike,
            shows=shows,
            reasons=said,
            working=tuple(said.values()),
            features={"gears": len(asked), "changes": sum(ways[name].links("external") for name in asked)},
            instead=examples.INSTEAD,
        )


def _shows(ways: Mapping[str, gearwork.Way]) -> dict[str, str]:
    """Return what a wrongly judged gear shows: a chain, ring or shaft taken wrongly, or else one mesh too few.

    Somebody who leaves out a mesh judges every gear wrongly; where a chain, ring or shaft is among them, that pattern
    would be taken for this one. So the mesh is named only where there is none of them.
    """
    by_link = {name: codes[0] for name, way in ways.items() if (codes := misjudged_alike(way))}
    return by_link or {name: "mesh-too-few" for name, way in ways.items() if way.links("external")}


def _counted(way: gearwork.Way) -> str:
    changes = gearwork.counted(way.links("external"), "change")
    turns = "the same way as" if way.ratio > 0 else "the opposite way to"
    return f"{_capital(way.last.title)}: {changes} of sense, so it turns {turns} the {way.first.title}."


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]


class GearOnPicture(Unshuffled):
    """On the picture of the gear train the fastest or slowest gear that turns a given way is to be found.

    Difficulty: the gears on the picture; the links among them that are no outside teeth; the gears that turn the way
    that is asked, among which the fastest or slowest is to be found.
    """

    name = "turning-direction/gear-on-picture"
    skill = "find a gear by how it turns"
    kind = "point"
    weights = MappingProxyType({"gears": 0.5, "other links": 0.5, "turn so": 0.25})

    def pose(self, rng: random.Random, _pack: Pack, /) -> Draw:
        """Draw once."""
        survey = examples.example(rng, renamed=True).survey
        one = rng.choice(survey.names)
        shown = survey.names
        ways = {name: survey.ways[one, name] for name in shown if name != one}
        way = rng.choice((1, -1))
        fastest = rng.random() < 0.5
        case = Sought(ways, way, fastest)
        right = case.right
        # A gear whose name says what it shares a shaft with is the fastest or slowest oftener than the others are.
        told = {end for mesh in survey.train.meshes if mesh.kind == "shaft" for end in (mesh.driver, mesh.driven)}
        redraw_if(not told.isdisjoint(right) and rng.random() < _SPARED)
        shows = _told_apart(case)
        viewpoint = rng.choice(gears.VIEWPOINTS)
        start = rng.choice((1, -1))
        letters = gearwork.letters_of(shown)
        titles = {name: survey.title(name) for name in shown}
        asked = "fastest" if fastest else "slowest"
        sense = gears.sense_of(start * way)
        meshes = survey.mesh_rows(shown)
        item = PointItem(
            prompt=f"The {titles[one]} is turned {gears.sense_of(start)}, {gearwork.seen_from(viewpoint)}. "
            f"Which of the other gears turns {sense}, and {asked} of those that do? Point to it.",
            given=(examples.engine_row(), *meshes),
            figure=survey.picture(shown, viewpoint),
            targets=tuple(Option(id=letter, text=_capital(titles[name])) for name, letter in letters.items()),
        )
        said = {
            name: f"{_capital(titles[name])}: {gears.sense_of(start * each.ratio)}, {_speed(abs(each.ratio))} "
            f"for one turn of the {titles[one]}."
            for name, each in ways.items()
        }
        said[one] = f"The {titles[one]} is the gear that is turned."
        key = PointKey(
            template=self.name,
            working=(
                *(said[name] for name in ways),
                f"Of those that turn {sense} the {' and the '.join(titles[name] for name in right)} "
                f"{'turns' if len(right) == 1 else 'turn'} {asked}.",
            ),
            right=tuple(letters[name] for name in right),
            shows={letters[name]: code for name, code in shows.items()},
            reasons={letters[name]: text for name, text in said.items()},
        )
        features = {
            "gears": len(shown),
            "other links": sum(row.value != gearwork.KINDS["external"] for row in meshes),
            "turn so": sum((each.ratio > 0) == (way > 0) for each in ways.values()),
        }
        return Draw(item, key, features, examples.INSTEAD)


def _told_apart(case: Sought) -> dict[str, str]:
    """Return what each wrong gear shows; a rule that may lead to a right gear as well says nothing.

    Raises
    ------
    Redraw
        If nothing is sought at all, no wrong gear shows anything, or one would show two things.
    """
    shows: dict[str, str] = {}
    for code, rule in PICTURE_RULES.items():
        found = rule(case)
        if set(found) & set(case.right):
            continue
        redraw_if(set(found) & set(shows))
        shows |= dict.fromkeys(found, code)
    redraw_if(not case.right or not shows)
    return shows


def _speed(turns: Fraction) -> str:
    return f"{turns} {'turn' if turns <= 1 else 'turns'}"
