"""Whatever forms an apprentice draws, one pass through all modules gives each misconception two chances to show."""

from __future__ import annotations

from collections import Counter

from trainkit import modules, packs
from trainkit.items.misconceptions import all_misconceptions
from trainkit.pools.filling import Pools
from trainkit_grading.course import packs as course_packs
from trainkit_grading.course.seeds import Seed
from trainkit_grading.diagnosis import LEAST, chances

# Taking a ring for a mesh that turns over: only the assessment engine has one, and few of its questions can show it.
# Backing off too little: both engines have so little lash that it goes unpunished.
NEVER = {"ring-turns-over", "backs-off-too-little"}
# Each would take more questions of its template than the modules have: what shows one of them excludes another that
# the same question could show. Some forms show these twice; diagnosis holds nothing against anybody on fewer.
SELDOM = {
    # a gear that was pressed on, one short of its flank and one let go again, in two questions; one that drives
    *("wind-up-as-lash", "lash-as-wind-up", "force-let-go-counts", "driver-drawn-back", "doubled-twice"),
    # the screw of two lengths would be right in each
    "screw-too-short",
    # trains with a chain, or with idlers one after the other, are few
    *("chain-turns-over", "idler-counted-twice"),
    # asked for in practice alone
    "damaged-part-fitted",
    # more pairs of steps than the cards of two orders hold; attempts at starting are few
    *("attempt-spoilt", "proof-before-isolation", "restored-too-soon", "set-unpinned"),
}


def test_every_form_gives_every_misconception_its_chances() -> None:
    sure = Counter[str]()
    for module in modules.names():
        blueprint = modules.load(module).blueprint
        pack = packs.load(course_packs.find_pack(blueprint.assessed_on or blueprint.pack))
        for pool in Pools.fill(Seed(bytes(32)), "chances", blueprint, pack, 1).pools:
            # Only what each draw of a pool can show is sure.
            sure.update(frozenset.intersection(*(frozenset(chances(*pooled.draw)) for pooled in pool.draws)))
    assert {code for code in all_misconceptions() if sure[code] < LEAST} == NEVER | SELDOM
