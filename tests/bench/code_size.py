"""Count the lines of code of product and tests; run as ``python tests/bench/code_size.py``.

What counts is a line that holds code: no blank line, no comment and no docstring. Python is read by its own tokenizer.
In JavaScript, style sheets and templates a comment is what begins a line with a sign for comments, up to where it ends;
one that follows code leaves a line of code. The product is both packages with what they are built from; what a tool
wrote (the built extension, lock files) and data (packs, tables) are not code.

"In all" adds up Python alone, product and tests; the other languages stand beside it.
"""

from __future__ import annotations

import argparse
import ast
import io
import re
import tokenize
from collections import Counter
from pathlib import Path

ROOT = Path(__file__).parents[2]
PARTS = {
    "trainkit": "product",
    "labextension": "product",
    "grading/trainkit_grading": "product",
    "tests": "tests",
}
LANGUAGES = {".py": "Python", ".js": "JavaScript", ".css": "CSS", ".j2": "templates"}
WRITTEN_BY_TOOLS = re.compile(r"trainkit-workbooks/|node_modules/|_workbooks/|/\.")
COMMENTS = {
    "JavaScript": re.compile(r"^[ \t]*(?://.*|/\*[\s\S]*?\*/)", re.MULTILINE),
    "CSS": re.compile(r"^[ \t]*/\*[\s\S]*?\*/", re.MULTILINE),
    "templates": re.compile(r"^[ \t]*(?:\{#[\s\S]*?#\}|<!--[\s\S]*?-->|/\*[\s\S]*?\*/)", re.MULTILINE),
}
NO_CODE = {
    *(tokenize.NL, tokenize.NEWLINE, tokenize.COMMENT),
    *(tokenize.INDENT, tokenize.DEDENT, tokenize.ENDMARKER),
}
DOCUMENTED = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)


def python(text: str) -> int:
    """Return how many lines of Python hold code."""
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in NO_CODE:
            lines.update(range(token.start[0], token.end[0] + 1))
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, DOCUMENTED) and ast.get_docstring(node, clean=False) is not None:
            docstring = node.body[0]
            lines.difference_update(range(docstring.lineno, (docstring.end_lineno or docstring.lineno) + 1))
    written = text.split("\n")
    return sum(bool(written[line - 1].strip()) for line in lines)


def code(text: str, language: str) -> int:
    """Return how many lines of a text hold code."""
    if language == "Python":
        return python(text)
    return sum(bool(line.strip()) for line in COMMENTS[language].sub("", text).splitlines())


def sizes(root: Path = ROOT) -> Counter[tuple[str, str]]:
    """Return the lines of code of each folder and language."""
    found: Counter[tuple[str, str]] = Counter()
    for part in PARTS:
        for path in sorted((root / part).rglob("*")):
            within = path.relative_to(root).as_posix()
            language = LANGUAGES.get(path.suffix)
            if language is None or WRITTEN_BY_TOOLS.search(within) or not path.is_file():
                continue
            folder = path.relative_to(root / part).parts
            name = f"{part}/{folder[0]}" if part == "tests" and len(folder) > 1 else part
            found[name, language] += code(path.read_text(encoding="utf-8"), language)
    return found


def main() -> None:
    """Print a line for each folder, then product and tests."""
    parser = argparse.ArgumentParser(description="Lines without blanks, docstrings and comments.")
    parser.add_argument("root", nargs="?", type=Path, default=ROOT, help="a checkout, where it is not this one")
    found = sizes(parser.parse_args().root)
    languages = list(LANGUAGES.values())
    print(f"{'':26}" + "".join(f"{language:>12}" for language in languages))
    for name in dict.fromkeys(name for name, _ in found):
        print(f"{name:26}" + "".join(f"{found[name, language]:12,}" for language in languages))
    totals: Counter[tuple[str, str]] = Counter()
    for (name, language), lines in found.items():
        side = next(side for part, side in PARTS.items() if name == part or name.startswith(f"{part}/"))
        totals[side, language] += lines
    print()
    for side in dict.fromkeys(PARTS.values()):
        print(f"{side:26}" + "".join(f"{totals[side, language]:12,}" for language in languages))
    print(f"{'in all':26}{sum(lines for (_, language), lines in totals.items() if language == 'Python'):12,}")


if __name__ == "__main__":
    main()
