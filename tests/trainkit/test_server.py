"""Which pages the server makes calm, and what it tells them of the place."""

from __future__ import annotations

import json
import os
import shutil
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import quote

import pytest

from trainkit import modules, server
from trainkit.cli import workbooks

CONFIG: dict[str, Any] = {
    "federated_extensions": [{"name": "trainkit-workbooks"}],
    "disabledExtensions": ["somebody/else"],
}


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A served folder with a workbook under another name, in a folder with a name as people have them."""
    home = tmp_path / "served" / "zoë's 50% copy"
    home.mkdir(parents=True)
    shutil.copyfile(modules.load("lock-pin").notebook, home / "renamed.ipynb")
    return tmp_path / "served"


def address(mode: str, path: str = "zoë's 50% copy/renamed.ipynb") -> str:
    return f"{mode}/tree/{quote(path)}"


def test_a_workbook_alone_is_calm_and_in_full_jupyterlab_it_is_offered(root: Path) -> None:
    calm = server.calm_page(CONFIG, address("/doc"), root)
    assert calm["trainkitCalm"] == "yes"
    assert json.loads(calm["trainkitPlace"]) == {"step": "", "read": [], "practised": []}
    assert calm["disabledExtensions"][0] == "somebody/else"
    assert "@jupyterlab/apputils-extension:announcements" in calm["disabledExtensions"]
    assert server.calm_page(CONFIG, address("/doc/workspaces/auto-W"), root) == calm, "a second window"
    full = server.calm_page(CONFIG, address("/lab"), root)
    assert full == {**CONFIG, "trainkitCalm": "offered"}
    assert full["disabledExtensions"] == ["somebody/else"]
    assert set(CONFIG) == {"federated_extensions", "disabledExtensions"}, "the given one is everybody's"
    assert CONFIG["disabledExtensions"] == ["somebody/else"]


def test_every_other_page_stays_as_it_is(root: Path) -> None:
    (root / "notes.ipynb").write_text(json.dumps({"cells": [{"cell_type": "code", "source": "1"}]}))
    (root / "torn.ipynb").write_text("{")
    outside = root.parent / "lock-pin.ipynb"
    shutil.copyfile(modules.load("lock-pin").notebook, outside)
    others = [
        *("/lab", "/tree", "/doc", "/lab/workspaces/a"),
        *(address("/doc", name) for name in ("notes.ipynb", "torn.ipynb", "none.ipynb", "")),
        *(address("/doc", name) for name in ("../lock-pin.ipynb", str(outside), "zoë's 50% copy")),
        address("/lab/workspaces/a"),
    ]
    for other in others:
        assert server.calm_page(CONFIG, other, root) is CONFIG, other


def test_without_the_part_in_the_page_nothing_of_jupyterlab_is_taken_away(root: Path) -> None:
    for config in (
        {**CONFIG, "disabledExtensions": ["trainkit-workbooks"]},
        {**CONFIG, "federated_extensions": []},
        {},
    ):
        assert server.calm_page(config, address("/doc"), root) is config


@pytest.mark.parametrize("name", modules.names())
def test_every_workbook_is_known(name: str) -> None:
    assert server.module_of(modules.load(name).notebook) == name


def test_it_knows_a_workbook_as_the_page_does() -> None:
    source = Path(server.__file__).with_name("labextension") / "src" / "recognise.js"
    assert f"/{server._OPENING.pattern}/" in source.read_text("utf-8")


def test_a_place_says_names_of_steps_and_nothing_else(root: Path) -> None:
    home = root / "zoë's 50% copy"
    path = home / "lock-pin.place.json"
    path.write_text(
        json.dumps({"format": 1, "step": "question-a3", "read": ["what-the-pin-does"], "practised": ["back-off"]})
    )
    told = json.loads(server.calm_page(CONFIG, address("/doc"), root)["trainkitPlace"])
    assert told == {"step": "question-a3", "read": ["what-the-pin-does"], "practised": ["back-off"]}
    nothing = {"step": "", "read": [], "practised": []}
    for content in ("{", "[]", '"a"', '{"step": 1, "read": "ab", "practised": [1, null]}', '{"step": "</script>"}'):
        path.write_text(content)
        assert server.place_in(home, "lock-pin") == nothing, content
    path.write_text(json.dumps({"step": "a", "read": ["b"] * 10_000}))
    assert server.place_in(home, "lock-pin") == nothing
    path.write_text(json.dumps({"read": ["b"] * 1000}))
    assert len(server.place_in(home, "lock-pin")["read"]) == 200


def test_the_server_asks_an_earlier_hook_first(root: Path) -> None:
    settings: dict[str, Any] = {
        "base_url": "/user/zoë/",
        "page_config_hook": lambda _, config: {**config, "theirs": True},
    }
    running = SimpleNamespace(
        web_app=SimpleNamespace(settings=settings), contents_manager=SimpleNamespace(root_dir=str(root))
    )
    (point,) = server._jupyter_server_extension_points()
    assert point == {"module": server.__name__}
    server._load_jupyter_server_extension(running)

    def page(path: str) -> dict[str, Any]:
        handler = SimpleNamespace(request=SimpleNamespace(path=path))
        config: dict[str, Any] = settings["page_config_hook"](handler, CONFIG)
        return config

    calm = page(f"/user/zoë{address('/doc')}")
    assert calm["theirs"] is True
    assert calm["trainkitCalm"] == "yes"
    assert page("/user/zoë/lab") == {**CONFIG, "theirs": True}
    # Where notebooks lie in no folder of the server's, it cannot look into them.
    running.contents_manager.root_dir = ""
    assert "trainkitCalm" not in page(f"/user/zoë{address('/doc')}")


def test_what_starts_a_server_sets_it_up_and_keeps_what_was_there(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JUPYTER_CONFIG_PATH", "theirs")
    first, second = workbooks.server_environment()["JUPYTER_CONFIG_PATH"].split(os.pathsep)
    assert second == "theirs"
    enabled = json.loads(Path(first, "jupyter_server_config.d", "trainkit.json").read_text("utf-8"))
    assert enabled == {"ServerApp": {"jpserver_extensions": {server.__name__: True}}}
    assert Path(first, "labconfig", "default_setting_overrides.json").is_file()
    monkeypatch.delenv("JUPYTER_CONFIG_PATH")
    assert workbooks.server_environment()["JUPYTER_CONFIG_PATH"] == first
