"""Lines of code in src/ by room: no docstrings, comments or blanks; templates, scripts and styles counted."""

from __future__ import annotations

import ast
import io
import sys
import tokenize
from collections import Counter
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1] / "src" / "shaftwright"
_NOT_CODE = (tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT,
             tokenize.ENCODING, tokenize.ENDMARKER)  # fmt: skip
_MADE = {".html", ".js", ".css"}


def code_lines(path: Path) -> int:
    """Lines that hold code."""
    text = path.read_text(encoding="utf-8")
    if path.suffix != ".py":
        return sum(bool(line.strip()) for line in text.splitlines())
    held: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type not in _NOT_CODE:
            held |= set(range(token.start[0], token.end[0] + 1))
    for node in ast.walk(ast.parse(text)):
        body = getattr(node, "body", None)
        if isinstance(body, list) and body and isinstance(node, _DOCUMENTED):
            first = body[0]
            if (
                isinstance(first, ast.Expr)
                and isinstance(first.value, ast.Constant)
                and isinstance(first.value.value, str)
            ):
                held -= set(range(first.lineno, (first.end_lineno or first.lineno) + 1))
    return len(held)


_DOCUMENTED = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)


def main() -> None:
    """A line a room, and the sum."""
    rooms: Counter[str] = Counter()
    files: Counter[str] = Counter()
    for path in sorted(SOURCE.rglob("*")):
        if path.suffix == ".py" or path.suffix in _MADE:
            parts = path.relative_to(SOURCE).parts
            room = "/".join(parts[: min(len(parts) - 1, 2)]) or "."
            rooms[room] += code_lines(path)
            files[room] += 1
    for room, lines in sorted(rooms.items()):
        sys.stdout.write(f"{lines:7,}  {files[room]:3}  {room}\n")
    sys.stdout.write(f"{rooms.total():7,}  {files.total():3}  in all\n")


if __name__ == "__main__":
    main()
