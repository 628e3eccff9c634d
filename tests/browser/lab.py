"""A real JupyterLab and a real Chromium, driven from Python.

:class:`Server` starts JupyterLab with configuration, data and runtime folders of its own; :class:`Chrome` is a browser
with an empty profile; :class:`Lab` is a notebook open in it. How an apprentice answers stands in ``by_keyboard`` and
``by_pointer``.
"""

from __future__ import annotations

import json
import os
import re
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Any

from playwright.sync_api import BrowserContext, Locator, Page, Playwright, expect

from trainkit.cli.workbooks import extension_options, server_environment

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
# The browser shall neither call home nor need a graphics card or rights that a container lacks.
FLAGS = [
    *("--no-sandbox", "--disable-gpu", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update"),
]
PATIENCE = 30_000
LAPTOP = (1366, 768)


class Server:
    """JupyterLab on a free port, serving one folder.

    With our extension in JupyterLab's own page; with the calm page, as ``trainkit open`` starts it; or without both.
    """

    def __init__(
        self,
        root: Path,
        state: Path,
        environment: Mapping[str, str] | None = None,
        *,
        extension: bool = False,
        calm: bool = False,
    ) -> None:
        self.root = root
        self.extension = extension or calm
        self.calm = calm
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
        if not self.calm:
            self._set("apputils-extension", "notification", {"fetchNews": "false", "checkForUpdates": False})
        if not self.extension:
            # What "jupyter labextension disable" writes: the extension may be installed all the same.
            page = self.state / "config" / "labconfig" / "page_config.json"
            page.parent.mkdir(exist_ok=True)
            page.write_text(json.dumps({"disabledExtensions": {"trainkit-workbooks": True}}))
        # The server's part may be installed all the same, so it is switched off where it is not asked for.
        off = self.state / "quiet" / "jupyter_server_config.d" / "trainkit.json"
        off.parent.mkdir(parents=True, exist_ok=True)
        off.write_text(json.dumps({"ServerApp": {"jpserver_extensions": {"trainkit.server": False}}}))
        setup = server_environment() if self.calm else {**os.environ, "JUPYTER_CONFIG_PATH": str(off.parents[1])}
        environment = {
            **setup,
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
            *(extension_options() if self.extension else []),
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
        self.errors: list[str] = []
        self.size = {"width": size[0], "height": size[1]}
        self.page: Page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self._listen()

    def _listen(self) -> None:
        self.page.set_default_timeout(PATIENCE)
        self.page.on("pageerror", lambda error: self.errors.append(str(error)))

    def begin_anew(self) -> None:
        """Take a new tab in the place of the open one: without drafts, scripts or a size of the tests before."""
        before = self.page
        self.page = self.context.new_page()
        self.page.set_viewport_size(self.size)  # type: ignore[arg-type] # two numbers by their names
        self._listen()
        before.close()
        self.errors.clear()

    def __enter__(self) -> Chrome:
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, at: TracebackType | None) -> None:
        self.context.close()


class Lab:
    """A notebook open in JupyterLab's single-document mode."""

    def __init__(self, page: Page, server: Server) -> None:
        self.page = page
        self.server = server

    def open(self, path: str, *, workspace: str = "") -> None:
        """Open a notebook, path relative to the server's folder, and wait for its kernel.

        A second window at the same time needs a ``workspace`` of its own: JupyterLab would load the page once more.
        """
        place = f"doc/workspaces/{workspace}" if workspace else "doc"
        address = f"{self.server.url}/{place}/tree/{path}?token={self.server.token}"
        self.page.goto(address, wait_until="domcontentloaded")
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

    def wait_ready(self, timeout: int = 2 * PATIENCE) -> Locator:
        """Wait until the extension has got the workbook ready, and return its strip."""
        strip = self.page.locator(".tk-strip")
        expect(strip).to_have_attribute("data-status", re.compile("^(none|saved|practice)$"), timeout=timeout)
        return strip

    def command(self, name: str) -> Any:
        """Run one of JupyterLab's own commands."""
        return self.page.evaluate(
            """async (name) => {
              const done = await window.jupyterapp.commands.execute(name);
              return typeof done === "boolean" ? done : null;
            }""",
            name,
        )

    def run(self, path: str) -> Lab:
        """Open a notebook and run all its cells."""
        self.open(path)
        self.run_all()
        return self

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
        stand_still(found)
        return found


def stand_still(shown: Locator) -> None:
    """Wait until something no longer moves: outputs above it may still grow, the page may still scroll."""
    last = None
    for _ in range(30):
        box = shown.bounding_box()
        if box is not None and box == last:
            return
        last = box
        shown.page.wait_for_timeout(120)
    raise AssertionError(f"It does not stand still: {last}")


def expect_status(question: Locator, status: str, *, timeout: int = PATIENCE) -> None:
    """Expect one of none, draft, saving, saved, failed."""
    expect(question).to_have_attribute("data-status", status, timeout=timeout)
