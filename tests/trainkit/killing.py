"""Killing a process at a chosen moment: children are forked from one prepared parent, so that each costs milliseconds.

The parent is a process of its own, without threads: it imports a module of tasks once, lets it prepare itself, and
forks for each order. A child is killed from outside after a random time, or kills itself at a random step: before or
after a call that touches a file or a database, or in the middle of a write. What a child tells goes through a pipe,
and so outlives it.
"""

from __future__ import annotations

import gc
import importlib
import json
import os
import random
import signal
import subprocess
import sys
import time
import traceback
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

__all__ = ["Parent", "Ran", "steps", "tell", "times"]

# Calls into C that touch a file or a database: the moment before and the moment after each of them is a step.
_TOUCHING = frozenset(
    (
        *("open", "write", "flush", "fsync", "replace", "rename", "unlink", "remove", "mkdir", "rmdir", "scandir"),
        *("flock", "execute", "executemany", "commit", "rollback", "fetchall", "fetchone"),
    )
)
# Texts and lists have methods of these names, too.
_PLAIN = (str, bytes, list, set, dict)

_TOLD_TO = -1


def tell(what: str) -> None:
    """Tell something that is known even if this process is killed right afterwards."""
    if _TOLD_TO >= 0:
        _real_write(_TOLD_TO, f"{what}\n".encode())


_real_write = os.write


@dataclass(frozen=True)
class Ran:
    """What became of a child.

    ``told`` are its words; ``killed`` says whether it was; ``seconds`` from the fork to its end; ``steps`` how many it
    made, where they were counted to the end.
    """

    told: tuple[str, ...]
    killed: bool
    seconds: float
    steps: int


class Parent:
    """The prepared process.

    Parameters
    ----------
    tasks : str
        A module that can be imported by name; its functions are the tasks. ``begin``, where there is one, is called
        in the new process before all others.
    """

    def __init__(self, tasks: str) -> None:
        places = [place for place in sys.path if place]
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(places), "PYTHONUNBUFFERED": "1"}
        self._process = subprocess.Popen(
            [sys.executable, __file__, tasks],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
            text=True,
        )

    def __enter__(self) -> Parent:
        return self

    def __exit__(self, *_: object) -> None:
        assert self._process.stdin is not None
        self._process.stdin.close()
        assert self._process.stdout is not None
        self._process.stdout.close()
        self._process.wait(30)

    def prepare(self, task: str, **what: Any) -> None:
        """Let the parent itself do a task, so that every child has it behind it."""
        self._order({"task": task, "what": what, "here": True})

    def run(
        self,
        task: str,
        *,
        at_step: int = 0,
        cut: float = 0.5,
        after: float | None = None,
        since: str = "",
        count: bool = False,
        **what: Any,
    ) -> Ran:
        """Let a child do a task.

        Parameters
        ----------
        task : str
            Name of the function.
        at_step : int, optional
            The child kills itself at this step, from 1.
        cut : float, optional
            Which part of a written text the step in the middle of ``os.write`` leaves.
        after : float, optional
            The child is killed after so many seconds.
        since : str, optional
            Count them not from the fork but from when the child tells this.
        count : bool, optional
            Count the steps.
        """
        how = {"step": at_step, "cut": cut, "after": after, "since": since, "count": count}
        return Ran(**self._order({"task": task, "what": what, **how}))

    def _order(self, order: dict[str, Any]) -> dict[str, Any]:
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(order) + "\n")
        self._process.stdin.flush()
        line = self._process.stdout.readline()
        assert line, "The parent process ended; its words are above."
        answer: dict[str, Any] = json.loads(line)
        if "fault" in answer:
            raise AssertionError(answer["fault"])
        return answer


def _serve(tasks: Any) -> None:
    getattr(tasks, "begin", lambda: None)()
    out = os.dup(1)
    os.dup2(2, 1)  # whatever a task prints is no answer
    for line in sys.stdin:
        order = json.loads(line)
        try:
            if order.get("here"):
                getattr(tasks, order["task"])(**order["what"])
                answer: dict[str, Any] = {}
            else:
                answer = _child(getattr(tasks, order["task"]), order)
        except Exception:  # noqa: BLE001 - whatever it is, the test that asked is told
            answer = {"fault": traceback.format_exc()}
        _real_write(out, json.dumps(answer).encode() + b"\n")


def _child(task: Callable[..., None], order: dict[str, Any]) -> dict[str, Any]:
    read, write = os.pipe()
    gc.freeze()  # what is there already need not be looked through, and so copied, by each child
    begun = time.perf_counter()
    child = os.fork()
    if child == 0:
        os.close(read)
        _work(task, order, write)
    os.close(write)
    told = _hear(read, child, order["after"], order["since"].encode(), begun)
    _, status = os.waitpid(child, 0)
    seconds = time.perf_counter() - begun
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    if not killed and os.waitstatus_to_exitcode(status) != 0:
        return {"fault": f"The child failed: {told.decode(errors='replace')[-3000:]}"}
    # A line that was cut off was not told.
    lines = told.decode().split("\n")[:-1]
    steps = next((int(line.split()[1]) for line in lines if line.startswith("steps ")), 0)
    return {"told": lines, "killed": killed, "seconds": seconds, "steps": steps}


def _hear(read: int, child: int, after: float | None, since: bytes, begun: float) -> bytes:
    told = b""
    if after is not None:
        if since:
            while since + b"\n" not in told and (part := os.read(read, 65536)):
                told += part
            time.sleep(after)
        else:
            time.sleep(max(0.0, after - (time.perf_counter() - begun)))
        # It has not been waited for: the number is still its own, even if it has ended.
        os.kill(child, signal.SIGKILL)
    while part := os.read(read, 65536):
        told += part
    os.close(read)
    return told


def _work(task: Callable[..., None], order: dict[str, Any], write: int) -> None:
    global _TOLD_TO  # the one thing that differs between parent and child
    _TOLD_TO = write
    status = 70
    try:
        if order["step"] or order["count"]:
            steps = _Steps(order["step"], order["cut"])
            os.write = steps.write  # type: ignore[assignment] # torn on purpose
            sys.setprofile(steps.met)
            try:
                task(**order["what"])
            finally:
                sys.setprofile(None)
            tell(f"steps {steps.made}")
        else:
            task(**order["what"])
        status = 0
    except BaseException:  # noqa: BLE001 - a child never returns into the parent's loop
        tell(traceback.format_exc())
    finally:
        os._exit(status)


class _Steps:
    def __init__(self, last: int, cut: float) -> None:
        self.made = 0
        self._last = last
        self._cut = cut

    def met(self, _: Any, event: str, called: Any) -> None:
        if event not in ("c_call", "c_return") or called.__name__ not in _TOUCHING or called is _real_write:
            return
        if not isinstance(called.__self__, _PLAIN):
            self.step()

    def step(self) -> None:
        self.made += 1
        if self.made == self._last:
            os.kill(os.getpid(), signal.SIGKILL)

    def write(self, descriptor: int, data: bytes) -> int:
        """Write in two parts, with a step before, between and after."""
        self.step()
        part = int(len(data) * self._cut)
        done = _real_write(descriptor, data[:part]) if part else 0
        self.step()
        done += _real_write(descriptor, data[done:])
        self.step()
        return done


def steps(rng: random.Random, many: int, last: int) -> Iterator[dict[str, Any]]:
    """Give so many random steps from 1 to ``last``, spread over all of them."""
    for number in range(many):
        yield {"at_step": 1 + int((number + rng.random()) * last / many), "cut": rng.random()}


def times(rng: random.Random, many: int, most: float, since: str = "") -> Iterator[dict[str, Any]]:
    """Give so many random times up to ``most`` seconds."""
    for _ in range(many):
        yield {"after": rng.uniform(0, most), "since": since}


if __name__ == "__main__":
    # Under its own name, so that the tasks tell through this very module.
    sys.modules["tests.trainkit.killing"] = sys.modules["__main__"]
    _serve(importlib.import_module(sys.argv[1]))
