"""A scenario on the bench: what was done so far, what can be done next, and how it looks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from trainkit import figures
from trainkit.errors import ResponseError
from trainkit.items import scenarios
from trainkit.items.kinds import ActionsResponse
from trainkit.widgets.aftermath import AFTER_A_WRECK

if TYPE_CHECKING:
    from collections.abc import Sequence

    from trainkit.items.kinds import ActionsItem
    from trainkit.items.scenarios import Play


class BenchPlay:
    """A scenario being played.

    Parameters
    ----------
    item : ActionsItem
        The scenario.
    explaining : bool
        Whether each action is explained, as in practice.
    """

    def __init__(self, item: ActionsItem, *, explaining: bool) -> None:
        self.item = item
        self.explaining = explaining
        self._names = {option.id: option.text for option in item.actions}
        self.restart()

    def restart(self) -> None:
        """Go back to the start of the scenario."""
        self.actions: list[str] = []
        self.gave_up = False
        self._log: list[dict[str, str]] = []
        self._play: Play = scenarios.begin(self.item.model, self.item.scene)

    def resume(self, response: ActionsResponse) -> None:
        """Bring the scenario to where a recorded answer left it."""
        self.restart()
        for action in response.actions:
            if self.over:
                break
            self.act(action)
        self.gave_up = response.gave_up

    @property
    def play(self) -> Play:
        """The scenario as it stands."""
        return self._play

    @property
    def over(self) -> bool:
        """Whether nothing more can be done: decided, stopped, or too many actions."""
        return self._play.finished or self.gave_up or len(self.actions) >= self.item.limit

    @property
    def response(self) -> ActionsResponse:
        """What would be recorded now."""
        return ActionsResponse(actions=tuple(self.actions), gave_up=self.gave_up)

    def act(self, action: str) -> None:
        """Do one action.

        Raises
        ------
        ResponseError
            If it is not offered, or the scenario is over.
        """
        if action not in self._names:
            raise ResponseError(action, rule="Only what is shown can be done.", remedy="Use one of the buttons.")
        if self.over:
            raise ResponseError(
                action, rule="This attempt is over.", remedy="Go back to the start if you want another one."
            )
        self._play, line = self._done(action)
        self.actions.append(action)
        self._log.append(line)

    def _done(self, action: str) -> tuple[Play, dict[str, str]]:
        """Return the scenario after an action, and what is told of it."""
        play, seen = self._play.act(action)
        line = {"action": self._names[action], "seen": seen}
        if self.explaining:
            line["why"] = play.explain()
        return play, line

    def ahead(self) -> dict[str, dict[str, Any]]:
        """Return for each action that can be done now what :meth:`shown` would change to, without doing it.

        The line that an action adds to the log stands alone, as ``line``. With this at hand the screen need not wait
        for the kernel to show what a press leads to, and still shows nothing that the kernel has not worked out.
        """
        if self.over:
            return {}
        found = {}
        for action in self._offered(self._play.actions):
            play, line = self._done(action)
            over = play.finished or len(self.actions) + 1 >= self.item.limit
            found[action] = {
                **self._picture(play),
                "line": line,
                "can": [] if over else self._offered(play.actions),
                "over": over,
                "ending": _ending(finished=play.finished, over=over),
                "count": len(self.actions) + 1,
            }
        return found

    def stop(self) -> None:
        """Stop here and leave it as it stands."""
        self.gave_up = not self._play.finished

    def shown(self) -> dict[str, Any]:
        """Return everything that the screen shows of the scenario."""
        return {
            **self._picture(self._play),
            "log": list(self._log),
            "can": [] if self.over else self._offered(self._play.actions),
            "over": self.over,
            "ending": _STOPPED if self.gave_up else _ending(finished=self._play.finished, over=self.over),
            "count": len(self.actions),
            "limit": self.item.limit,
        }

    def _picture(self, play: Play) -> dict[str, Any]:
        """Return what is drawn of a play: what the eye sees, and what is behind it only where all is explained."""
        seen = {name: value for name, value in play.view.items() if name != "draw"}
        shown: dict[str, Any] = {"figure": figures.Picture(play.view).svg, "seen": seen}
        if self.explaining:
            shown["behind"] = dict(play.behind)
            shown["wreck"] = list(AFTER_A_WRECK) if play.wrecked else []
        return shown

    def _offered(self, actions: Sequence[str]) -> list[str]:
        return [action for action in actions if action in self._names]


_STOPPED = "You stopped this attempt here."


def _ending(*, finished: bool, over: bool) -> str:
    if finished:
        return "This attempt is complete."
    return "You have used all your actions." if over else ""
