"""A real JupyterLab and a real Chromium, driven from Python.

:class:`Server` starts JupyterLab with configuration, data and runtime folders of its own; :class:`Chrome` is a browser
with an empty profile; :class:`Lab` is a notebook open in it. The functions at the end answer questions the way an
apprentice does, with the keyboard alone.
"""

from __future__ import annotations

import json
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Mapping, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any

from playwright.sync_api import BrowserContext, Locator, Page, Playwright, expect

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
# The browser shall neither call home nor need a graphics card or rights that a container lacks.
FLAGS = [
    *("--no-sandbox", "--disable-gpu", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update"),
]
PATIENCE = 30_000
LAPTOP = (1366, 768)


class Server:
    """JupyterLab on a free port, serving one folder."""

    def __init__(self, root: Path, state: Path, environment: Mapping[str, str] | None = None) -> None:
        self.root = root
        self.state = state
        self.environment = dict(environment or {})
        self.token = secrets.token_hex(16)
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port = probe.getsockname()[1]
        self.url = f"http://127.0.0.1:{self.port}"

    def __enter__(self) -> Server:
        own = {
            "JUPYTER_CONFIG_DIR": "config",
            "JUPYTER_DATA_DIR": "data",
            "JUPYTER_RUNTIME_DIR": "runtime",
            "JUPYTERLAB_SETTINGS_DIR": "settings",
            "JUPYTERLAB_WORKSPACES_DIR": "workspaces",
            "IPYTHONDIR": "ipython",
        }
        for name in own.values():
            (self.state / name).mkdir(parents=True, exist_ok=True)
        self._set("apputils-extension", "notification", {"fetchNews": "false", "checkForUpdates": False})
        environment = {
            **os.environ,
            **{name: str(self.state / folder) for name, folder in own.items()},
            # Kernel and extensions come from this very environment.
            "JUPYTER_PREFER_ENV_PATH": "1",
            **self.environment,
        }
        arguments = [
            *(sys.executable, "-m", "jupyterlab", "--no-browser", "--ServerApp.ip=127.0.0.1"),
            *(f"--ServerApp.port={self.port}", "--ServerApp.port_retries=0"),
            *(f"--IdentityProvider.token={self.token}", f"--ServerApp.root_dir={self.root}"),
            "--LabApp.expose_app_in_browser=True",
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            arguments.append("--allow-root")
        self._log = (self.state / "server.log").open("ab")
        self.process = subprocess.Popen(
            arguments, stdout=self._log, stderr=self._log, env=environment, cwd=self.root, start_new_session=True
        )
        deadline = time.monotonic() + 120
        while True:
            if self.process.poll() is not None or time.monotonic() > deadline:
                raise RuntimeError("JupyterLab did not start:\n" + (self.state / "server.log").read_text()[-3000:])
            try:
                self.call("GET", "/api/status")
            except OSError:
                time.sleep(0.2)
            else:
                return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        self.process.send_signal(signal.SIGTERM)
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        self._log.close()

    def _set(self, extension: str, plugin: str, values: object) -> None:
        path = self.state / "settings" / "@jupyterlab" / extension / f"{plugin}.jupyterlab-settings"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(values))

    def call(self, method: str, path: str) -> Any:
        """Call the server's own interface."""
        request = urllib.request.Request(self.url + path, method=method)  # noqa: S310 - our own server
        request.add_header("Authorization", f"token {self.token}")
        with urllib.request.urlopen(request, timeout=20) as answer:  # noqa: S310 - our own server
            content = answer.read()
        return json.loads(content) if content else None

    def close_kernels(self) -> None:
        """End all kernels, so that the next test starts with its own."""
        for session in self.call("GET", "/api/sessions"):
            self.call("DELETE", f"/api/sessions/{session['id']}")


class Chrome:
    """A browser with a profile of its own; closing it leaves server and kernels running."""

    def __init__(
        self,
        playwright: Playwright,
        profile: Path,
        *,
        size: tuple[int, int] = LAPTOP,
        touch: bool = False,
        dark: bool = False,
    ) -> None:
        if CHROMIUM is None:
            raise RuntimeError("Chromium is not on PATH; where CI=true it has to be.")
        self.context: BrowserContext = playwright.chromium.launch_persistent_context(
            profile,
            executable_path=CHROMIUM,
            headless=True,
            args=FLAGS,
            viewport={"width": size[0], "height": size[1]},
            has_touch=touch,
            color_scheme="dark" if dark else "light",
        )
        self.page: Page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.page.set_default_timeout(PATIENCE)
        self.errors: list[str] = []
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))

    def __enter__(self) -> Chrome:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        self.context.close()


class Lab:
    """A notebook open in JupyterLab's single-document mode."""

    def __init__(self, page: Page, server: Server) -> None:
        self.page = page
        self.server = server

    def open(self, path: str) -> None:
        """Open a notebook, path relative to the server's folder, and wait for its kernel."""
        self.page.goto(f"{self.server.url}/doc/tree/{path}?token={self.server.token}", wait_until="domcontentloaded")
        self.page.wait_for_function("() => window.jupyterapp")
        self.page.evaluate("async () => { await window.jupyterapp.restored; }")
        self.page.wait_for_function("() => window.jupyterapp.shell.currentWidget?.content?.widgets")
        self.page.evaluate(
            """async () => {
              const panel = window.jupyterapp.shell.currentWidget;
              await panel.context.ready; await panel.sessionContext.ready;
            }"""
        )
        self.wait_idle()

    def wait_idle(self, timeout: int = 2 * PATIENCE) -> None:
        """Wait until the kernel is idle and no cell waits for it."""
        self.page.wait_for_function(
            """() => {
              const panel = window.jupyterapp.shell.currentWidget;
              const kernel = panel.sessionContext.session?.kernel;
              return kernel?.status === "idle" && kernel.connectionStatus === "connected"
                && ![...panel.content.widgets].some((cell) => cell.prompt === "*");
            }""",
            timeout=timeout,
        )

    def command(self, name: str) -> Any:
        """Run one of JupyterLab's own commands."""
        return self.page.evaluate(
            """async (name) => {
              const done = await window.jupyterapp.commands.execute(name);
              return typeof done === "boolean" ? done : null;
            }""",
            name,
        )

    def run_all(self) -> None:
        """Run all cells; an error in one of them is an error here."""
        done = self.command("notebook:run-all-cells")
        self.wait_idle()
        if done is False:
            raise AssertionError("A cell of the notebook raised an error.")

    def restart(self) -> None:
        """Restart the kernel and run all cells, as the message on the screen asks for."""
        self.page.evaluate(
            "async () => { await window.jupyterapp.shell.currentWidget.sessionContext.session.kernel.restart(); }"
        )
        self.wait_idle()
        self.run_all()

    def kernel_pid(self) -> int:
        """Return the process of the kernel."""
        return int(self.in_kernel("import os; print(os.getpid())"))

    def in_kernel(self, code: str) -> str:
        """Run code in the kernel without touching the notebook, and return what it prints."""
        printed = self.page.evaluate(
            """async (code) => {
              const kernel = window.jupyterapp.shell.currentWidget.sessionContext.session.kernel;
              const future = kernel.requestExecute({ code, store_history: false, stop_on_error: false });
              let out = "";
              future.onIOPub = (message) => {
                if (message.header.msg_type === "stream") out += message.content.text;
                if (message.header.msg_type === "error") out += "ERROR " + message.content.evalue;
              };
              await future.done;
              return out;
            }""",
            code,
        )
        return str(printed)

    def cells(self) -> list[dict[str, str]]:
        """Return type, identifier and source of every cell, to show that keys changed none of them."""
        cells: list[dict[str, str]] = self.page.evaluate(
            """() => [...window.jupyterapp.shell.currentWidget.content.widgets].map((cell) => ({
              type: cell.model.type, id: cell.model.id, source: cell.model.sharedModel.getSource() }))"""
        )
        return cells

    def show_cell(self, number: int) -> None:
        """Scroll to a cell and select it, in command mode."""
        self.page.evaluate(
            """async (number) => {
              const notebook = window.jupyterapp.shell.currentWidget.content;
              notebook.activeCellIndex = number; notebook.mode = "command";
              await notebook.scrollToItem(number, "center"); notebook.activate();
            }""",
            number,
        )

    def question(self, name: str) -> Locator:
        """Return the control of an item (``"A1"``), of the hand-in (``"finish"``), scrolled into view."""
        number = self.page.evaluate(
            """(name) => [...window.jupyterapp.shell.currentWidget.content.widgets].findIndex((cell) =>
              cell.model.sharedModel.getSource().includes(name === "finish" ? "finish()" : `"${name}"`))""",
            name,
        )
        self.show_cell(number)
        found = self.page.locator(f'.tk-question[data-name="{name}"]')
        expect(found).to_be_visible()
        # Outputs above may still grow; a finger or a mouse needs it to stand still.
        last = None
        for _ in range(30):
            box = found.bounding_box()
            if box == last:
                break
            last = box
            self.page.wait_for_timeout(120)
        return found


def focused(page: Page) -> str:
    """Return what has the focus: its classes and words."""
    return str(
        page.evaluate("() => `${document.activeElement.className} ${document.activeElement.textContent.slice(0, 60)}`")
    )


def tab_to(page: Page, wanted: Locator, limit: int = 40) -> None:
    """Press Tab, or Shift+Tab if it lies behind, until something has the focus, as a person without a mouse does."""
    for _ in range(limit):
        where = wanted.evaluate(
            """(node) => {
              const now = document.activeElement;
              if (node === now) return "here";
              return now.compareDocumentPosition(node) & Node.DOCUMENT_POSITION_PRECEDING ? "behind" : "ahead";
            }"""
        )
        if where == "here":
            return
        page.keyboard.press("Tab" if where == "ahead" else "Shift+Tab")
    raise AssertionError(f"Tab does not reach it in {limit} presses; the focus is on: {focused(page)}")


def save(page: Page, question: Locator) -> None:
    """Press the button that saves, by keyboard."""
    tab_to(page, question.locator(".tk-settle"))
    page.keyboard.press("Enter")


def answer_number(page: Page, question: Locator, text: str, unit: str = "", *, saving: bool = True) -> None:
    """Type a number, pick its unit and save, by keyboard."""
    tab_to(page, question.locator(".tk-input"))
    page.keyboard.press("Control+a")
    page.keyboard.type(text)
    if unit:
        _pick(page, question.locator(".tk-units input"), unit)
    if saving:
        save(page, question)


def answer_choice(page: Page, question: Locator, option: str, *, saving: bool = True) -> None:
    """Choose an option by its identifier and save, by keyboard."""
    _pick(page, question.locator(".tk-choice input"), option)
    if saving:
        save(page, question)


def answer_several(page: Page, question: Locator, options: Sequence[str], *, saving: bool = True) -> None:
    """Take exactly these options and save, by keyboard."""
    for box in question.locator(".tk-choice input").all():
        tab_to(page, box)
        if box.is_checked() != (box.get_attribute("value") in options):
            page.keyboard.press("Space")
    if saving:
        save(page, question)


def answer_insert(page: Page, question: Locator, place: int, *, saving: bool = True) -> None:
    """Put the missing step before the written one of that number, counted from 0, and save, by keyboard."""
    _pick(page, question.locator(".tk-insert input"), str(place))
    if saving:
        save(page, question)


def answer_point(page: Page, question: Locator, target: str, *, saving: bool = True) -> None:
    """Choose a place on the picture from its list and save, by keyboard."""
    _pick(page, question.locator(".tk-point-list input"), target)
    if saving:
        save(page, question)


def answer_set(page: Page, question: Locator, value: float, step: float, low: float, *, saving: bool = True) -> None:
    """Set a hand or a scale by single steps from its lower end and save, by keyboard."""
    slider = question.locator(".tk-slider")
    tab_to(page, slider)
    page.keyboard.press("Home")
    for _ in range(round((value - low) / step)):
        page.keyboard.press("ArrowUp")
    expect(slider).to_have_attribute("aria-valuenow", f"{value:g}")
    if saving:
        save(page, question)


def answer_grid(page: Page, question: Locator, rows: Mapping[str, str], *, saving: bool = True) -> None:
    """Choose a column for each row, given by their words, and save, by keyboard."""
    for row, column in rows.items():
        line = question.locator(".tk-grid-row", has=page.get_by_text(row, exact=True))
        radios = line.locator("input")
        words = line.locator(".tk-option").all_inner_texts()
        value = radios.nth(words.index(column)).get_attribute("value")
        _pick(page, radios, str(value))
    if saving:
        save(page, question)


def answer_text(page: Page, question: Locator, text: str, *, saving: bool = True) -> None:
    """Write a text and save, by keyboard."""
    tab_to(page, question.locator(".tk-text-area"))
    page.keyboard.press("Control+a")
    page.keyboard.type(text)
    if saving:
        save(page, question)


def _pick(page: Page, radios: Locator, value: str) -> None:
    """Pick one of a group of radio buttons: Tab reaches the group, arrows move in it."""
    every = radios.all()
    values = [radio.get_attribute("value") for radio in every]
    start = next((place for place, radio in enumerate(every) if radio.is_checked()), 0)
    tab_to(page, every[start])
    page.keyboard.press("Space")
    for _ in range((values.index(value) - start) % len(values)):
        page.keyboard.press("ArrowDown")
    expect(every[values.index(value)]).to_be_checked()


def card_order(question: Locator) -> list[str]:
    """Return the texts of the cards as they stand."""
    return question.locator(".tk-card .tk-text").all_text_contents()


def answer_order(page: Page, question: Locator, texts: Sequence[str], *, saving: bool = True) -> None:
    """Put the cards in an order, given by their texts, and save, by keyboard."""
    tab_to(page, question.locator('.tk-card[tabindex="0"]'))
    page.keyboard.press("Home")
    for place, text in enumerate(texts):
        standing = card_order(question)
        now = standing.index(text)
        page.keyboard.press("Home")
        for _ in range(now):
            page.keyboard.press("ArrowDown")
        page.keyboard.press("Space")
        for _ in range(now - place):
            page.keyboard.press("ArrowUp")
        page.keyboard.press("Space")
    assert card_order(question) == list(texts)
    if saving:
        save(page, question)


def play_actions(page: Page, question: Locator, actions: Sequence[str]) -> None:
    """Play a scenario by the keys that stand on its buttons; each action waits for its answer."""
    buttons = {button.get_attribute("data-action"): button for button in question.locator(".tk-action").all()}
    tab_to(page, next(iter(buttons.values())))
    for done, action in enumerate(actions, start=1):
        page.keyboard.press(str(buttons[action].get_attribute("aria-keyshortcuts")).lower())
        expect(question.locator(".tk-count")).to_contain_text(f"{done} of")


def expect_status(question: Locator, status: str, *, timeout: int = PATIENCE) -> None:
    """Expect one of none, draft, saving, saved, failed."""
    expect(question).to_have_attribute("data-status", status, timeout=timeout)
