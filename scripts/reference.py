"""The pages of docs/reference/, written from the commands, the records, the rules and the interface.

`python scripts/reference.py` writes them, `--check` refuses pages that have drifted.
"""

from __future__ import annotations

import importlib.metadata
import inspect
import re
import sys
import tomllib
import types
import typing
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click
import yaml
from pydantic import BaseModel

import shaftwright
from shaftwright import bow, readings, shown
from shaftwright.cli.main import cli
from shaftwright.records import notebook, rig, stock
from shaftwright.rules.facts import FACTS

ROOT = Path(__file__).resolve().parents[1]
WRITTEN = "Written by `python scripts/reference.py`; do not edit.\n"
WORDS = {"float": "number", "int": "whole number", "str": "text", "bool": "true or false"}


def commands() -> str:
    """Every command's help, as it prints it."""

    def walk(command: click.Command, name: str) -> Iterator[str]:
        context = click.Context(command, info_name=name, terminal_width=80, max_content_width=80)
        hashes = "##" if name.count(" ") < 2 else "###"
        yield f"{hashes} `{name}`\n\n```text\n{command.get_help(context)}\n```\n"
        if isinstance(command, click.Group):
            for below in command.list_commands(context):
                found = command.get_command(context, below)
                if found is not None:
                    yield from walk(found, f"{name} {below}")

    return f"# Commands\n\n{WRITTEN}\n" + "\n".join(walk(cli, "shaftwright"))


def allowed(kind: Any) -> str:
    """What a field takes, in words."""
    origin, args = typing.get_origin(kind), typing.get_args(kind)
    if kind is type(None):
        return ""
    if origin is typing.Literal:
        return " or ".join(f"`{one}`" for one in args)
    if origin is typing.Annotated:
        return limits(args[1:]) or allowed(args[0])
    if origin in (typing.Union, types.UnionType):
        return " or ".join(dict.fromkeys(word for word in map(allowed, args) if word))
    if origin in (tuple, list, dict):
        inner = dict.fromkeys(allowed(one) for one in args if one is not Ellipsis)
        return f"a list of {', '.join(inner)}"
    if inspect.isclass(kind) and issubclass(kind, BaseModel):
        return f"see [{kind.__name__}](#{kind.__name__.lower()})"
    return WORDS.get(getattr(kind, "__name__", ""), getattr(kind, "__name__", str(kind)))


def limits(metadata: typing.Sequence[Any]) -> str:
    """The limits of a quantity, as its own reader would tell them."""
    for one in metadata:
        func = getattr(one, "func", None)
        told = inspect.getclosurevars(func).nonlocals.get("allowed") if func else None
        if isinstance(told, str):
            return told
    return ""


def fields(model: type[BaseModel], name: str) -> str:
    """One record as a table of its fields."""
    rows = ["| field | takes | left out |", "|---|---|---|"]
    for key, one in model.model_fields.items():
        takes = limits(one.metadata) or allowed(one.annotation)
        if one.is_required():
            out = "not allowed"
        elif one.default in (None, "") or one.default_factory is not None:
            out = "not known"
        else:
            out = f"`{getattr(one.default, 'value', one.default)}`"
        rows.append(f"| `{one.alias or key}` | {takes.replace('|', '/')} | {out} |")
    words = (inspect.getdoc(model) or "").split("\n")[0]
    return f"### {name}\n\n{words}\n\n" + "\n".join(rows) + "\n"


def files() -> str:
    """Every file that people write, field by field."""
    starter = ROOT / "src" / "shaftwright" / "starter"
    entries = typing.get_args(typing.get_args(notebook.AnyEntry)[0])
    rigs = (rig.Rig, rig.Archer, rig.Bow, rig.DrawWeight, rig.Window, rig.Plate, rig.Plunger,
            rig.NockingPoint, rig.BowString, rig.LaunchSettings)  # fmt: skip
    parts = [
        f"# Files\n\n{WRITTEN}",
        "Lengths and weights take a number in the field's unit, or words with a unit: `29 3/8 in`, `74 cm`, "
        "`32 g`. A key that is not listed is refused with the nearest right spelling.\n",
        "## The rig\n\n`rig.yaml`, and `before.yaml` for the rig before its last change.\n",
        *(fields(one, one.__name__) for one in rigs),
        "## The stock\n\n`stock.csv`: a row an item.\n",
        fields(stock.StockItem, "StockItem"),
        "## The notebook\n\n`notebook.yaml`: a list, one reading an entry.\n",
        *(fields(one, one.__name__) for one in (*entries, notebook.BuildSpec, notebook.RigState,
                                                notebook.Shot, notebook.Tail)),
        "## The starters, explained line by line\n\nThis is what `shaftwright new` writes.\n",
    ]  # fmt: skip
    parts += [
        f"### `{name}`\n\n```text\n{(starter / name).read_text(encoding='utf-8')}```\n"
        for name in ("rig.yaml", "stock.csv", "notebook.yaml", "rules.yaml")
    ]
    return "\n".join(parts)


def sizes(what: dict[str, Any]) -> str:
    """A value with its range."""
    if "value" not in what:
        return ""
    return f"{what['value']:g}" + (
        f" ({what['low']:g} to {what['high']:g})" if "low" in what else ""
    )


def sourced(what: dict[str, Any], known: dict[str, Any]) -> str:
    """Basis and sources in words."""
    basis = str(what["basis"]).replace("_", " ")
    told = [f"{known[key]['title']} ({known[key]['where']})" for key in what.get("source") or []]
    return f"{basis}; {'; '.join(told)}" if told else f"{basis}, no source"


def rules() -> str:
    """Every rule and setting with range, basis and source."""
    books = {p.stem: yaml.safe_load(p.read_text(encoding="utf-8"))
             for p in sorted((ROOT / "rules").glob("*.yaml"))}  # fmt: skip
    known = books["bibliography"]["sources"]
    parts = [
        f"# Rules\n\n{WRITTEN}",
        "A rule shifts the draw weight that the shaft is chosen for. Its value is the most likely one, its "
        "range holds 95 in 100. *Recalled* means: from memory, check before you lean on it.\n",
    ]
    for name, book in sorted(books.items(), key=lambda item: (item[1].get("order", 99), item[0])):
        if "rules" in book:
            parts.append(
                f"## {book['topic'][0].upper()}{book['topic'][1:]}\n\n`rules/{name}.yaml`\n"
            )
            parts += [rule(one, known) for one in book["rules"]]
    rows = [
        f"| `{name}` | {', '.join(fact.choices) or fact.unit} | {fact.reference} | "
        f"{'arrow' if fact.of_build else 'bow'} |"
        for name, fact in FACTS.items()
    ]
    head = [
        "| quantity or choice | allowed, or its unit | where a rule says nothing | of |",
        "|---|---|---|---|",
    ]
    parts.append("## What rules may speak of\n\n" + "\n".join(head + rows) + "\n")
    parts.append("## Settings\n\nWhat a careful tuner does, in numbers.\n")
    for name, book in books.items():
        rows = [
            f"| `{key}` | {sizes(one)} | {one['why']} | {sourced(one, known)} |".replace("\n", " ")
            for key, one in (book.get("settings") or {}).items()
            if "basis" in one and "why" in one
        ]
        if rows:
            head = ["| setting | value | why | basis and source |", "|---|---|---|---|"]
            parts.append(f"### {name}\n\n`rules/{name}.yaml`\n\n" + "\n".join(head + rows) + "\n")
    return "\n".join(parts)


def rule(one: dict[str, Any], known: dict[str, Any]) -> str:
    """One rule."""
    unit = {"pct_of_draw_weight": "% of draw weight"}.get(one["shift_unit"], one["shift_unit"])
    form = one["form"]
    per = f" for every {form['per']} of `{form['of']}`" if "per" in form else ""
    if "table" in form:
        per = f", as a factor on `tables/{form['table']}.csv` along `{form['of']}`"
    per += f"; its doubt counts from `{form['usual']}`" if "usual" in form else ""
    lines = [f"- {sizes(one)} {unit}{per}"] if "value" in one else []
    lines += [f"- {case}: {sizes(size)} {unit}" for case, size in (one.get("cases") or {}).items()]
    lines += [f"- why: {one['why']}", f"- do: {one['do']}", f"- basis: {sourced(one, known)}"]
    lines += [f"- note: {' '.join(one['note'].split())}"] if one.get("note") else []
    return f"### {one['name']} ({one['code']})\n\n" + "\n".join(lines) + "\n"


def causes() -> str:
    """Why bare shafts land where they do."""
    book = yaml.safe_load((ROOT / "rules" / "diagnosis.yaml").read_text(encoding="utf-8"))
    known = yaml.safe_load((ROOT / "rules" / "bibliography.yaml").read_text(encoding="utf-8"))[
        "sources"
    ]
    parts = [
        f"# Causes\n\n{WRITTEN}",
        "How often each cause shows each sign, 0 to 1. `stiff` and `weak` are sides as the bow sees them: "
        "for a right-hander a stiff arrow lands left, nock to the right.\n",
    ]
    for one in book["causes"]:
        lines = [
            f"- {sign}: " + ", ".join(f"{side} {chance:g}" for side, chance in sides.items())
            for sign, sides in (one.get("signs") or {}).items()
        ]
        lines += [f"- to check: {one['check']}"] if one.get("check") else []
        parts.append(f"## {one['label'][0].upper()}{one['label'][1:]} ({one['code']})\n\n"
                     + "\n".join([*lines, f"- basis: {sourced(one, known)}"]) + "\n")  # fmt: skip
    return "\n".join(parts)


def python() -> str:
    """The public interface: signatures and docstrings."""
    parts = [
        f"# Python\n\n{WRITTEN}",
        "```python\nimport shaftwright\n\n"
        'bow = shaftwright.open("my-bow")  # the folder, or a rig file\n'
        "bow.next()  # prints as the command does\n"
        "bow.choose(top=20).to_frame()  # ranked arrows as a table, units in the columns' names\n"
        'bow.what_if("string.material=polyester").next()  # nothing is written\n```\n',
        "Every answer has `to_dict()`, the document of `--json` ([its keys](../json.md)). The package has "
        "`py.typed`: type checkers read its types.\n",
        described("shaftwright.open", bow.open),
    ]
    for owner in (bow.Bow, shown.Shown):
        parts.append(f"## {owner.__name__}\n\n{(inspect.getdoc(owner) or '').split(chr(10))[0]}\n")
        for name, what in sorted(vars(owner).items()):
            if inspect.isfunction(what) and not name.startswith("_") and what.__doc__:
                parts.append(described(f"{owner.__name__}.{name}", what))
    rows = [f"| `{name}` | {row} |" for name, (row, _) in shown.TABLES.items()]
    parts += [
        "A row of `to_frame()` is:\n",
        "\n".join(["| of | a row is |", "|---|---|", *rows, ""]),
    ]
    parts.append("## Readings without a bow\n")
    parts += [described(f"shaftwright.readings.{one.__name__}", one)
              for one in (readings.compare, readings.brace)]  # fmt: skip
    return "\n".join(parts)


def described(name: str, what: Any) -> str:
    """One function: its signature and its docstring."""
    signature = inspect.signature(what)
    told = ", ".join(str(one) for one in signature.parameters.values() if one.name != "self")
    doc = inspect.getdoc(what) or ""
    return (
        f"### `{name}`\n\n```text\n{name}({told}) -> {signature.return_annotation}\n\n{doc}\n```\n"
    )


def licences() -> str:
    """What the product needs when it is installed, directly or not, and under which licence."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    todo = [*project["dependencies"], *project["optional-dependencies"]["web"]]
    seen: dict[str, importlib.metadata.Distribution] = {}
    while todo:
        name = re.split(r"[^\w.-]", todo.pop())[0]
        try:
            found = importlib.metadata.distribution(name)
        except importlib.metadata.PackageNotFoundError:
            continue  # for another system
        if found.metadata["Name"].lower() not in seen:
            seen[found.metadata["Name"].lower()] = found
            todo += [line for line in found.requires or [] if "extra" not in line.partition(";")[2]]
    rows = [
        f"| {one.metadata['Name']} | {licence(one)} |"
        for key, one in sorted(seen.items())
        if key not in ("colorama", "tzdata")  # only on some systems
    ]
    return "\n".join([f"# Licences\n\n{WRITTEN}",
                      "Shaftwright is MIT. What it needs, with the `web` extra, as each says itself:\n",
                      "| package | licence |", "|---|---|", *rows]) + "\n"  # fmt: skip


def licence(one: importlib.metadata.Distribution) -> str:
    """The licence as the package states it."""
    given = one.metadata.get("License-Expression")
    classed = [
        c.split(" :: ")[-1] for c in one.metadata.get_all("Classifier") or [] if "License ::" in c
    ]
    short = (one.metadata.get("License") or "").split("\n")[0]
    return str(given or ", ".join(classed) or short[:60] or "not stated")


PAGES = {
    "reference/commands.md": commands,
    "reference/files.md": files,
    "reference/rules.md": rules,
    "reference/causes.md": causes,
    "reference/python.md": python,
    "licences.md": licences,
}


def main() -> int:
    """Write the pages, or refuse those that have drifted."""
    assert shaftwright.__version__
    stale = []
    for name, make in PAGES.items():
        path, text = ROOT / "docs" / name, make()
        if not path.exists() or path.read_text(encoding="utf-8") != text:
            stale.append(f"docs/{name}")
            if "--check" not in sys.argv:
                path.parent.mkdir(exist_ok=True)
                path.write_text(text, encoding="utf-8")
    if stale and "--check" in sys.argv:
        print(f"{', '.join(stale)} has drifted: run python scripts/reference.py")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
