"""The calm page: the Jupyter server decides which address shows a workbook alone, and gives its place along.

JupyterLab's page asks its server for a configuration. The part of trainkit that runs in the server answers for two
kinds of address. Every other page stays as it was.

======================= ====================================================================
address                 what the page gets, if the notebook is a workbook
======================= ====================================================================
``/doc/tree/…``         ``trainkitCalm: "yes"``: the page shows the workbook alone. Parts of JupyterLab that would
                        only put up bars or popups are not started.
``/lab/tree/…``         ``trainkitCalm: "offered"``: all of JupyterLab, with a way to the calm page.
======================= ====================================================================

A second window has the address ``/doc/workspaces/NAME/tree/…``: JupyterLab puts the name there itself.

Which step was shown last, and what was read, lies in ``<module>.place.json`` beside the notebook: the page writes it,
and gets it back as ``trainkitPlace``. A file that somebody changed can say nothing but names of steps.
"""

from __future__ import annotations

import json
import os
import re
from pathlib import Path
from typing import Any
from urllib.parse import unquote

__all__ = ["PLACE_SUFFIX", "calm_page", "module_of", "place_in"]

PLACE_SUFFIX = ".place.json"
_EXTENSION = "trainkit-workbooks"
_LARGEST = 50_000_000  # bytes of a notebook; no workbook comes near
_PLACE_LIMIT = 20_000
_STEPS = 200

# The same form as in labextension/src/recognise.js; a test compares them.
_OPENING = re.compile(
    r'^(?:from trainkit(?:\.[a-z]+)* import [a-z]+(?:, [a-z]+)*\n+)+book = workbook\.open\("([a-z][a-z0-9-]*)"\)$'
)
_SECOND = re.compile(r"^/doc/workspaces/[^/]+$")
_STEP = re.compile(r"[a-z0-9][a-z0-9-]{0,99}")

# What nobody needs who reads and answers: bars, panels, popups, editors, searches in the network. A whole package, or
# some of its plugins; a name that a release does not know is nothing to it. What would complain of another that is
# missing stands here beside it: the two status lines of the kernel, the cursor's position, the types of raw cells.
_WHOLE = """
  audio celltags cell-toolbar completer console csvviewer debugger documentsearch extensionmanager fileeditor help
  htmlviewer imageviewer inspector launcher logconsole lsp mainmenu markdownviewer metadataform pluginmanager running
  settingeditor statusbar terminal toc tooltip video
"""
_IN_PART = {
    "apputils": "announcements kernel-status licenses-client licenses-plugin running-sessions-status",
    "application": "logo property-inspector top-bar",
    "codemirror": "line-col-status",
    "docmanager": "path-status saving-status",
    "filebrowser": "file-upload-status",
    "notebook": """
      active-cell-tool cell-counter-status code-console completer cursor-position execution-indicator kernel-status
      language-server log-output metadata-editor mode-status search toc tools trust-status update-raw-mimetype
    """,
}
QUIET = (
    *(f"@jupyterlab/{name}-extension" for name in _WHOLE.split()),
    *(f"@jupyterlab/{name}-extension:{plugin}" for name, plugins in _IN_PART.items() for plugin in plugins.split()),
    "@jupyter/nbgrader",
    "@jupyter-notebook/lab-extension",
)


def module_of(notebook: Path) -> str | None:
    """Return the module that a notebook opens as a workbook, or None if it is none or cannot be read.

    A workbook is known by the first cell that opens one, as in the browser; its name and metadata say nothing.

    Examples
    --------
    >>> from trainkit import modules
    >>> module_of(modules.load("lock-pin").notebook)
    'lock-pin'
    """
    try:
        if notebook.suffix != ".ipynb" or notebook.stat().st_size > _LARGEST:
            return None
        cells = json.loads(notebook.read_text("utf-8"))["cells"]
        sources = ["".join(cell["source"]) for cell in cells if cell["cell_type"] == "code"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return next((found[1] for source in sources if (found := _OPENING.fullmatch(source))), None)


def place_in(folder: Path, module: str) -> dict[str, Any]:
    """Return where somebody was in a workbook: ``step``, ``read`` and ``practised``, names of steps and nothing else.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as home:
    ...     _ = Path(home, "lock-pin.place.json").write_text('{"step": "practice", "read": ["<b>", "words"]}')
    ...     place_in(Path(home), "lock-pin")
    {'step': 'practice', 'read': ['words'], 'practised': []}
    """
    kept: Any = {}
    try:
        path = folder / f"{module}{PLACE_SUFFIX}"
        if path.stat().st_size <= _PLACE_LIMIT:
            kept = json.loads(path.read_text("utf-8"))
    except (OSError, ValueError, RecursionError):
        pass  # nobody was here yet, or the file is of no use: the workbook begins at its beginning
    kept = kept if isinstance(kept, dict) else {}
    step = kept.get("step")
    return {
        "step": step if _is_step(step) else "",
        **{
            name: [each for each in kept[name] if _is_step(each)][:_STEPS] if isinstance(kept.get(name), list) else []
            for name in ("read", "practised")
        },
    }


def _is_step(name: object) -> bool:
    return isinstance(name, str) and _STEP.fullmatch(name) is not None


def calm_page(config: dict[str, Any], address: str, root: Path) -> dict[str, Any]:
    """Return the configuration of a page: changed if it shows a workbook, else the given one.

    Parameters
    ----------
    config : dict
        What JupyterLab would give the page. It is never changed in place, as other pages share it.
    address : str
        The path of the page below the server's own address, as the browser asks for it.
    root : Path
        The folder that the server serves.
    """
    mode, tree, path = address.partition("/tree/")
    mode = _SECOND.sub("/doc", mode)
    # Where the page's own part is missing or switched off, nobody could do without JupyterLab's menus.
    present = {each.get("name") for each in config.get("federated_extensions", ())}
    off = [*config.get("disabledExtensions", ())]
    if not tree or mode not in ("/doc", "/lab") or _EXTENSION not in present or _EXTENSION in off:
        return config
    # Not resolved: a folder may be a link to elsewhere, and the server follows it too.
    notebook, top = (Path(os.path.normpath(each)) for each in (root / unquote(path).lstrip("/"), root))
    if not notebook.is_relative_to(top):
        return config
    module = module_of(notebook)
    if module is None:
        return config
    if mode == "/lab":
        return {**config, "trainkitCalm": "offered"}
    place = place_in(notebook.parent, module)
    return {
        **config,
        "trainkitCalm": "yes",
        "trainkitPlace": json.dumps(place),
        "disabledExtensions": [*off, *QUIET],
    }


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": "trainkit.server"}]


def _load_jupyter_server_extension(server: Any) -> None:
    settings = server.web_app.settings
    before = settings.get("page_config_hook")

    def hook(handler: Any, config: dict[str, Any]) -> dict[str, Any]:
        if before is not None:
            config = before(handler, config)
        root = getattr(server.contents_manager, "root_dir", "")
        if not root:
            return config  # notebooks that lie in no folder: JupyterLab as it comes
        address = handler.request.path.removeprefix(settings["base_url"].rstrip("/"))
        return calm_page(config, address, Path(root))

    settings["page_config_hook"] = hook
