"""One JupyterLab and one browser for all browser tests, and a copy of a small workbook for each test."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest
from playwright.sync_api import Page, Playwright

from tests.browser.copies import ITEMS, PRACTISED, Copy, write_copy
from tests.browser.lab import LAPTOP, Chrome, Lab, Server


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    # A folder with a space and an apostrophe in its name, as people have them.
    root = tmp_path_factory.mktemp("lab") / "the instructor's folder"
    root.mkdir()
    with Server(root, tmp_path_factory.mktemp("state")) as running:
        yield running


@pytest.fixture(scope="session")
def opening(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """JupyterLab as ``trainkit open`` starts it."""
    root = tmp_path_factory.mktemp("opened") / "the instructor's folder"
    root.mkdir()
    with Server(root, tmp_path_factory.mktemp("opened-state"), extension=True) as running:
        yield running


@pytest.fixture(scope="session")
def chrome(playwright: Playwright, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Chrome]:
    with Chrome(playwright, tmp_path_factory.mktemp("profile")) as browser:
        yield browser


_SERIAL = count(1)


@pytest.fixture
def folder(opening: Server) -> Iterator[Path]:
    """A new folder for each test, below that of the server with the extension."""
    home = opening.root / f"copy {next(_SERIAL)}"
    home.mkdir()
    yield home
    opening.close_kernels()


@pytest.fixture
def page(chrome: Chrome) -> Iterator[Page]:
    """The page of the browser that all tests share, as large as a laptop's."""
    chrome.errors.clear()
    chrome.page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    yield chrome.page
    assert chrome.errors == []
    chrome.page.evaluate("() => sessionStorage.clear()")
    chrome.page.goto("about:blank")


@pytest.fixture
def copy(server: Server, request: pytest.FixtureRequest) -> Iterator[Copy]:
    """A copy of the workbook; a test module that names ``ITEMS`` or ``PRACTISED`` has those asked in it."""
    name = f"copy {next(_SERIAL)}"
    write_copy(
        server.root / name,
        items=getattr(request.module, "ITEMS", ITEMS),
        practised=getattr(request.module, "PRACTISED", PRACTISED),
    )
    yield Copy(server.root / name, f"{name}/controls.ipynb")
    server.close_kernels()


@pytest.fixture
def lab(server: Server, chrome: Chrome, copy: Copy) -> Iterator[Lab]:
    """The copy, opened and run, in the browser that all tests share."""
    chrome.errors.clear()
    chrome.page.set_viewport_size({"width": LAPTOP[0], "height": LAPTOP[1]})
    yield Lab(chrome.page, server).run(copy.path)
    assert chrome.errors == []
    chrome.page.evaluate("() => sessionStorage.clear()")  # drafts, which the next copy would take for its own
    chrome.page.goto("about:blank")


@pytest.fixture
def tablet(playwright: Playwright, tmp_path: Path) -> Iterator[Chrome]:
    """A browser of its own on a screen that is touched; nothing in it fails."""
    with Chrome(playwright, tmp_path / "profile", size=(800, 1280), touch=True) as browser:
        yield browser
        assert browser.errors == []


@pytest.fixture
def touched(server: Server, tablet: Chrome, copy: Copy) -> Lab:
    """The copy, opened and run on a tablet."""
    return Lab(tablet.page, server).run(copy.path)
