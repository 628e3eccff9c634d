"""A plant that is worked on: sources go live, off, locked, released and proved, and whoever is in reach is hurt.

It plays one order of steps from the raw tables of a pack, step by step, and tells what goes wrong. It shares no code
with what derives precedences: there an order is judged as a whole, here nothing is known but the moment.
"""

from __future__ import annotations

from collections.abc import Iterable

from trainkit.packs import Pack, Step

STARTS = {"electric-start", "air-start", "hydraulic-start", "automatic-start"}
TURNS = {*STARTS, "driven-machine", "mains-back-feed"}


class Plant:
    """The sources, pins and bars of a pack at one moment."""

    def __init__(self, pack: Pack, configuration: str = "") -> None:
        self.pack = pack
        self.energies = {
            each.id: each
            for each in pack.energies
            if each.present and (configuration in each.only_with or not each.only_with)
        }
        self.state = dict.fromkeys(self.energies, "live")
        self.tools = {tool.id: tool.kind for tool in pack.tools}
        self.pins: dict[str, set[str]] = {}  # which are in, and the parts at the bench that they hold
        self.bar = False
        self.seen: set[str] = set()
        self.harm: list[str] = []

    def play(self, order: Iterable[str]) -> list[str]:
        """Do the steps of an order, and return what went wrong."""
        for name in order:
            self._do(self.pack.step(name))
        return self.harm

    def _do(self, step: Step) -> None:
        for name, energy in self.energies.items():
            if self._in_reach(step, name, energy.kind, energy.reaches) and self.state[name] != "proved":
                self.harm.append(f"{step.id}: within reach of {name}, which is {self.state[name]}")
        for name in step.needs_live:
            if name in self.state and self.state[name] != "live":
                self.harm.append(f"{step.id}: needs {name}, which is {self.state[name]}")
        self._sources(step)
        self._pins(step)
        self.seen |= set(step.does)

    def _in_reach(self, step: Step, name: str, kind: str, reaches: str) -> bool:
        touched = {*step.makes_safe, *step.proves, *step.restores}
        if name in touched or name in step.needs_live:
            return False
        if name in step.exposed_to or kind in step.exposed_to:
            return True
        if not step.at_engine:
            return False
        if kind in TURNS:
            live = {*touched, *step.needs_live}
            return all(self.energies[each].kind not in TURNS for each in live if each in self.energies)
        return reaches == "engine" and not touched

    def _sources(self, step: Step) -> None:
        for name in step.makes_safe:
            if name in self.state:
                self.state[name] = "released"  # switched off, locked and let down: one act of the step
        for name in step.proves:
            if name not in self.state:
                continue
            if self.state[name] != "released":
                self.harm.append(f"{step.id}: proves {name}, which is {self.state[name]}")
            elif self.energies[name].proof == "start-attempt" and self._open_elsewhere(name):
                self.harm.append(f"{step.id}: an attempt proves nothing about {name}")
            else:
                self.state[name] = "proved"
        for name in step.restores:
            if name not in self.state:
                continue
            kind = self.energies[name].kind
            if kind in TURNS and any("agree" in each.does for each in self.pack.steps) and "agree" not in self.seen:
                self.harm.append(f"{step.id}: {name} comes back unasked")
            if self.state[name] == "live":
                self.harm.append(f"{step.id}: {name} comes back before it was cut")
            self.state[name] = "live"
            self.seen.add(f"back {kind in STARTS}")
            if kind not in STARTS and "back True" in self.seen and not self._starts_too(step):
                self.harm.append(f"{step.id}: {name} comes back when the engine may start")

    def _starts_too(self, step: Step) -> bool:
        return any(self.energies[each].kind in STARTS for each in step.restores if each in self.energies)

    def _open_elsewhere(self, name: str) -> bool:
        return any(
            self.state.get(link, "live") != "live"
            for path in self.pack.start_paths
            if name in path.links
            for link in path.links
            if link != name
        )

    def _pins(self, step: Step) -> None:
        tool = step.tool if self.tools.get(step.tool) == "pin" else "pin"
        held = [pin for pin, bench in self.pins.items() if not bench and not (pin == tool and step.pin)]
        loads = {each.id: each for each in self.pack.fasteners if each.loads_train}
        final = step.fastener in loads and step.stage == loads[step.fastener].stages[-1].name
        if held and (step.loosens in loads or final):
            self.harm.append(f"{step.id}: loads the train against {held[0]}")
        if held and step.turns_engine:
            self.harm.append(f"{step.id}: turns the engine against {held[0]}")
        off = "bar" in {self.tools.get(each) for each in step.takes_away}
        touches = {step.loosens, step.fastener} & set(loads) or "set" in step.does or step.pin == "out"
        if self.bar and "pin" in self.pins and touches:
            self.harm.append(f"{step.id}: the bar is still on while the pin is in")
        if step.pin == "in":
            # A dowel that goes in at the bench holds the engine once its unit is on.
            self.pins[tool] = set() if step.at_engine else set(step.handles)
        elif step.pin == "out":
            self.pins.pop(tool, None)
        if step.at_engine:
            for bench in self.pins.values():
                if bench & set(step.fits):
                    bench.clear()
        self.bar = not off and (self.bar or "bar" in {self.tools.get(each) for each in step.puts_on})
