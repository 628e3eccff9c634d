"""Line numbers: where in a TOML file each key and each list entry stands.

``tomllib`` reads the values, but says nothing about lines. The file is therefore parsed a second time, with
tree-sitter, and only when a finding needs a line.
"""

from __future__ import annotations

import tomllib
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tree_sitter import Node

    from trainkit.packs.findings import Path


_KEYS = ("bare_key", "quoted_key", "dotted_key")


class Places:
    r"""The lines of a TOML text.

    Parameters
    ----------
    text : str
        The TOML text.

    Examples
    --------
    >>> places = Places('[engine]\nname = "x"\n\n[[gears]]\nid = "crank"\n[[gears]]\nid = "cam"\n')
    >>> places.line(("gears", 1, "id"))
    7
    >>> places.line(("gears", 1, "teeth"))  # not there: the entry it is missing from
    6
    """

    def __init__(self, text: str) -> None:
        self._text = text

    def line(self, path: Path) -> int:
        """Return the line of a path, or of the nearest thing around it; 0 for an empty path or text."""
        for length in range(len(path), 0, -1):
            if (found := self._lines.get(path[:length])) is not None:
                return found
        return 1 if self._text else 0

    def faults(self) -> tuple[int, ...]:
        """Return the lines at which the text is no TOML, as far as the second parser can tell."""
        return tuple(sorted({node.start_point[0] + 1 for node in self._broken(self._root)}))

    @cached_property
    def _root(self) -> Node:
        import tree_sitter
        import tree_sitter_toml

        parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
        return parser.parse(self._text.encode("utf-8", "surrogatepass")).root_node

    def _broken(self, root: Node) -> list[Node]:
        # Walked with a stack: a hostile file may nest deeper than Python recurses.
        found, waiting = [], [root]
        while waiting:
            node = waiting.pop()
            if node.is_error or node.is_missing:
                found.append(node)
            elif node.has_error:
                waiting.extend(node.children)
        return found

    @cached_property
    def _lines(self) -> dict[Path, int]:
        lines: dict[Path, int] = {}
        counts: dict[Path, int] = {}  # how many entries of an array of tables have been met
        for node in self._root.children:
            if node.type == "pair":
                self._pair(node, (), lines)
            elif node.type in ("table", "table_array_element"):
                keys = self._keys(next((child for child in node.children if child.type in _KEYS), None))
                # Inside an array of tables, a header speaks of the entry that was met last.
                path: Path = ()
                for depth, key in enumerate(keys):
                    path = (*path, key)
                    last = depth == len(keys) - 1
                    if last and node.type == "table_array_element":
                        counts[path] = counts.get(path, 0) + 1
                        lines.setdefault(path, node.start_point[0] + 1)
                    if path in counts:
                        path = (*path, counts[path] - 1)
                    lines.setdefault(path, node.start_point[0] + 1)
                for child in node.children:
                    if child.type == "pair":
                        self._pair(child, path, lines)
        return lines

    def _pair(self, node: Node, around: Path, lines: dict[Path, int]) -> None:
        waiting = [(node, around)]
        while waiting:
            node, around = waiting.pop()
            if node.type == "pair":
                path = around
                for key in self._keys(node.children[0]):
                    path = (*path, key)
                    lines.setdefault(path, node.start_point[0] + 1)
                waiting.append((node.children[-1], path))
            elif node.type == "inline_table":
                waiting.extend((child, around) for child in node.children if child.type == "pair")
            elif node.type == "array":
                entries = [child for child in node.named_children if child.type != "comment"]
                for index, entry in enumerate(entries):
                    lines.setdefault((*around, index), entry.start_point[0] + 1)
                    waiting.append((entry, (*around, index)))

    def _keys(self, node: Node | None) -> tuple[str, ...]:
        if node is None or node.text is None:
            return ()
        written = node.text.decode("utf-8", "replace")
        if node.type == "bare_key":
            return (written,)
        # The reader of values also knows best how quoted and dotted keys are read.
        try:
            level = tomllib.loads(f"{written} = 0")
        except (tomllib.TOMLDecodeError, RecursionError):
            return (written,)
        keys: list[str] = []
        while isinstance(level, dict):
            key, level = next(iter(level.items()))
            keys.append(key)
        return tuple(keys)
