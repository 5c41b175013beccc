"""The house's own rules: one direction of travel, small rooms, docstrings that agree with signatures."""

from __future__ import annotations

import ast
import functools
import inspect
import re
import subprocess
from pathlib import Path

import pytest

from shaftwright.parameters import parameters

ROOT = Path(__file__).resolve().parents[2]
SOURCE = ROOT / "src" / "shaftwright"
MODULES = sorted(p for p in SOURCE.rglob("*.py") if p.name != "__main__.py")

#: a room may import only rooms of its own rank or lower
RANKS = {
    "units": 0, "arrays": 0, "errors": 0, "limits": 0, "resources": 0, "result": 0, "__init__": 0, "physics": 1, "records": 2,
    "watched": 2, "files": 3, "parameters": 4, "rules": 4, "inference": 5, "measure": 6, "answers": 7, "render": 8,
    "opened": 8, "shown": 8, "readings": 9, "bow": 9, "web": 10, "cli": 11,
}  # fmt: skip


def room(path: Path) -> str:
    return path.relative_to(SOURCE).parts[0].removesuffix(".py")


@functools.cache
def parsed(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@functools.cache
def imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(parsed(path)):
        if (
            isinstance(node, ast.ImportFrom)
            and node.module
            and node.module.startswith("shaftwright")
        ):
            found.add(node.module)
            found |= {
                f"{node.module}.{alias.name}"
                for alias in node.names
                if node.module == "shaftwright"
            }
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name.startswith("shaftwright.")}
    return found


def test_imports_go_one_way() -> None:
    # the door to the public interface, opened when it is asked for
    assert imports(SOURCE / "__init__.py") == {"shaftwright", "shaftwright.bow"}
    wrong = []
    for path in MODULES:
        for name in imports(path) if path != SOURCE / "__init__.py" else ():
            parts = name.split(".")
            # of the package itself its version, or a room of it
            other = parts[1] if len(parts) > 1 and parts[1] in RANKS else "__init__"
            if RANKS[other] > RANKS[room(path)]:
                wrong.append(f"{path.relative_to(SOURCE)} imports {name}")
    assert wrong == []


def test_no_import_is_relative() -> None:
    nodes = (node for path in MODULES for node in ast.walk(parsed(path)))
    assert not [node for node in nodes if isinstance(node, ast.ImportFrom) and node.level]


def test_every_number_of_the_rules_is_read() -> None:
    """A setting that nothing reads promises what nobody does; a few names are put together."""
    held = "\n".join(path.read_text(encoding="utf-8") for path in MODULES)
    files = {
        p.stem
        for p in (ROOT / "rules").glob("*.yaml")
        if re.search(r"^settings:", p.read_text(encoding="utf-8"), re.M)
    }
    names = {(file, name) for file in files for name in parameters(file)}
    put_together = {("own_error", "other_"), ("evidence", "_misread")}
    unread = {
        f"{file}.{name}" for file, name in names
        if not re.search(rf"\b{name}\b", held)
        and not any(file == f and part in name for f, part in put_together)
    }  # fmt: skip
    assert len(names) > 150
    assert unread == set()


def test_no_circles_between_modules() -> None:
    graph = {}
    for path in MODULES:
        name = ".".join(("shaftwright", *path.relative_to(SOURCE).with_suffix("").parts))
        top_level = {
            node.module
            for node in parsed(path).body
            if isinstance(node, ast.ImportFrom) and node.module
        }
        graph[name.removesuffix(".__init__")] = {
            m for m in top_level if m.startswith("shaftwright.")
        }
    done: set[str] = set()

    def visit(name: str, trail: tuple[str, ...]) -> None:
        assert name not in trail, f"a circle: {' -> '.join((*trail, name))}"
        if name not in done:
            for other in graph.get(name, ()):
                visit(other, (*trail, name))
            done.add(name)

    for name in graph:
        visit(name, ())


def test_records_carry_types_not_text_as_annotations() -> None:
    # pydantic compiles an annotation that is text, one by one, at every start of a command
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        if room(path) in ("records", "rules", "parameters") and re.search(
            r"^class \w+\(Record\)", text, re.M
        ):
            assert "from __future__ import annotations" not in text, path


def test_no_module_is_a_room_asking_to_be_divided() -> None:
    long = {p for p in MODULES if len(p.read_text(encoding="utf-8").splitlines()) > 400}
    assert long == set()


@pytest.mark.parametrize("folder", sorted({p.parent for p in MODULES}), ids=lambda p: p.name)
def test_no_folder_has_more_than_a_dozen_modules(folder: Path) -> None:
    if folder.name != "cli":  # one a command
        assert sum(p.parent == folder and p.name != "__init__.py" for p in MODULES) <= 12


#: results that are shown, one conversion, and the fit and the score that a command starts
SHOWN = {"shaftwright.inference.band", "shaftwright.inference.evidence.look",
         "shaftwright.inference.rule_fit", "shaftwright.inference.score",
         "shaftwright.physics.spine"}  # fmt: skip


def test_render_cli_and_web_compute_nothing() -> None:
    for path in MODULES:
        if room(path) in ("render", "cli", "web"):
            names = {n for n in imports(path) if n.split(".")[1:2] in (["physics"], ["inference"])}
            assert names <= SHOWN, path


def wrong_with(name: str, node: ast.FunctionDef) -> str:
    """What a function's docstring lacks; empty where it is well."""
    text = inspect.cleandoc(ast.get_docstring(node) or "")
    if not text:
        return f"{name} has no docstring"
    if name.split("/")[0] not in ("physics", "inference", "measure"):
        return ""  # elsewhere one line that says why is enough
    arguments = [a.arg for a in (*node.args.posonlyargs, *node.args.args, *node.args.kwonlyargs)]
    arguments += [a.arg for a in (node.args.vararg, node.args.kwarg) if a is not None]
    section = re.search(
        r"^Parameters\n-+\n(.*?)(?=^\S[^\n]*\n-+\n|\Z)", text, re.DOTALL | re.MULTILINE
    )
    if section is None:
        return f"{name} does not describe its parameters" if len(arguments) > 2 else ""
    named = [
        part.strip().lstrip("*")
        for line in re.findall(r"^(\S[^\n]*?)(?: :[^\n]*)?$", section[1], re.MULTILINE)
        for part in line.split(",")
    ]
    return "" if named == arguments else f"{name} describes {named}, takes {arguments}"


def test_docstrings_agree_with_signatures() -> None:
    seen, wrong = 0, []
    for path in MODULES:
        if room(path) in ("cli", "web"):
            continue
        for node in parsed(path).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                seen += 1
                wrong.append(wrong_with(f"{path.relative_to(SOURCE)}:{node.name}", node))
    assert seen > 500
    assert list(filter(None, wrong)) == []


def test_nothing_names_a_machine_path_or_a_registry() -> None:
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True
    )
    wrong = re.compile(
        r"/work/|/root/|/home/\w|pypi\.org|files\.pythonhosted|registry\.npmjs|deb\.debian"
    )
    for name in listed.stdout.split():
        path = ROOT / name
        if path.suffix in (".png", ".woff2") or path == Path(__file__) or not path.exists():
            continue
        found = wrong.search(path.read_text(encoding="utf-8", errors="replace"))
        assert found is None, f"{name}: {found and found[0]}"
