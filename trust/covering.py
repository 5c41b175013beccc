"""Which fast tests run a line, and a few tests run in a process that has the slow imports behind it.

Every test file runs once in a process of its own, its lines written down test by test. What runs at import, in
a cached function or for a fixture of the whole file belongs to all tests of the file, whichever came first.
"""

from __future__ import annotations

import ast
import contextlib
import functools
import gc
import hashlib
import json
import os
import pickle
import select
import signal
import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path
from types import CodeType, FrameType, FunctionType
from typing import Any

import pytest
from hypothesis import Phase, settings
from record import ROOT

PACKAGE = Path("src/shaftwright")
KEPT = ROOT / "trust" / "found" / "covering.json"
WORDS = ["-q", "-o", "addopts=--strict-markers", "-p", "no:cacheprovider", "-m", "not slow and not browser"]  # fmt: skip


def warm_up(tree: Path) -> None:
    """Import what takes long, nothing of Shaftwright: each child imports that anew, with its fault."""
    import click.testing  # noqa: F401
    import matplotlib.figure  # noqa: F401
    import pandas  # noqa: F401
    import pydantic  # noqa: F401
    import scipy.integrate
    import scipy.optimize
    import scipy.stats  # noqa: F401
    import yaml  # noqa: F401

    settings.register_profile(
        "trust", database=None, derandomize=True, phases=[Phase.explicit, Phase.generate]
    )
    settings.load_profile("trust")
    os.environ |= {"PYTHONPATH": str(tree / "src"), "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1", "OMP_NUM_THREADS": "1"}  # fmt: skip
    os.environ |= {"OPENBLAS_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    os.chdir(tree)
    here = str(ROOT / "src")
    sys.path[:] = [str(tree / "src"), *(p for p in sys.path if p != here)]
    sys.dont_write_bytecode = True


def forked(work: Callable[[], Any], seconds: float) -> Any:
    """What `work` returns in a child of its own; None where it takes too long, the fault where it cannot."""
    out, into = os.pipe()
    child = os.fork()
    if not child:
        os.close(out)
        os.setpgrp()
        quiet = os.open(os.devnull, os.O_RDWR)
        for to in (0, 1, 2):
            os.dup2(quiet, to)
        try:
            with os.fdopen(into, "wb") as pipe:
                try:
                    told = work()
                except BaseException as error:
                    told = RuntimeError(f"{type(error).__name__}: {error}")
                pipe.write(pickle.dumps(told))
        finally:
            os._exit(0)
    os.close(into)
    read, until = b"", time.monotonic() + seconds
    while select.select([out], [], [], max(until - time.monotonic(), 0))[0]:
        if not (piece := os.read(out, 1 << 20)):
            break
        read += piece
    os.close(out)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(child, signal.SIGKILL)  # with whatever it started
    os.waitpid(child, 0)
    return pickle.loads(read) if read else None


class Lines:
    """A plugin that writes down which lines of some rooms each test runs."""

    def __init__(self, rooms: Iterable[str], shared_code: set[tuple[str, int]]) -> None:
        self.rooms, self.shared_code = tuple(rooms), shared_code
        self.depth, self.codes = 1, dict[CodeType, str | None]()
        self.shared: set[tuple[str, int]] = set()
        self.now = self.shared
        self.tests: dict[str, dict[str, Any]] = {}

    def call(self, frame: FrameType, event: str, arg: Any) -> Any:
        code = frame.f_code
        if code not in self.codes:
            _, found, name = code.co_filename.partition(f"{PACKAGE}/")
            self.codes[code] = name if found else None
        name = self.codes[code]
        if name is None:
            return None
        cached = (name, code.co_firstlineno) in self.shared_code or code.co_name == "<module>"
        ours = name.startswith(self.rooms)
        if not cached and not ours:
            return None
        self.depth += cached

        def local(frame: FrameType, event: str, arg: Any) -> Any:
            if event == "line" and ours:
                (self.shared if self.depth else self.now).add((name, frame.f_lineno))
            elif event == "return":
                self.depth -= cached
            return local

        return local

    @pytest.hookimpl(hookwrapper=True)
    def pytest_fixture_setup(self, fixturedef: Any) -> Any:
        self.depth += fixturedef.scope != "function"
        yield
        self.depth -= fixturedef.scope != "function"

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: Any) -> Any:
        self.now, self.depth, began = set(), 0, time.perf_counter()
        yield
        seconds = time.perf_counter() - began
        held = self.tests.setdefault(item.nodeid, {})
        held |= {"seconds": round(seconds, 3), "lines": by_file(self.now)}

    def pytest_runtest_logreport(self, report: Any) -> None:
        held = self.tests.setdefault(report.nodeid, {"good": True})
        held["good"] = held["good"] and (
            report.passed or (report.when != "call" and not report.failed)
        )
        held["good"] = held["good"] and not report.skipped


def by_file(lines: Iterable[tuple[str, int]]) -> dict[str, list[int]]:
    """Lines sorted by file."""
    found: dict[str, list[int]] = {}
    for name, line in sorted(lines):
        found.setdefault(name, []).append(line)
    return found


def cached_code(tree: Path) -> set[tuple[str, int]]:
    """File and first line of every function that answers once a process."""
    found = set()
    for path in (tree / PACKAGE).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                for one in node.decorator_list:
                    words = ast.unparse(one)
                    if "cache" in words and "cached_property" not in words:
                        first = min(d.lineno for d in node.decorator_list)
                        found.add((str(path.relative_to(tree / PACKAGE)), first))
    return found


def traced(tree: Path, folders: Iterable[str], rooms: Iterable[str]) -> dict[str, Any]:
    """Test file -> lines of all its tests, and each test's seconds and lines; kept while nothing changes."""
    old = json.loads(KEPT.read_text(encoding="utf-8")) if KEPT.exists() else {}
    code = cached_code(tree)
    whole = hashlib.sha256(b"".join(p.read_bytes() for p in sorted((tree / PACKAGE).rglob("*.py"))))
    found = {}
    for path in (p for f in folders for p in sorted((tree / "tests" / f).glob("test_*.py"))):
        name = str(path.relative_to(tree))
        key = hashlib.sha256(whole.digest() + path.read_bytes()).hexdigest()
        if old.get(name, {}).get("key") != key:

            def work(name: str = name) -> dict[str, Any]:
                sys.dont_write_bytecode = False  # pytest keeps what it makes of the test's text
                plugin = Lines(rooms, code)
                sys.settrace(plugin.call)
                pytest.main([*WORDS, name], plugins=[plugin])
                sys.settrace(None)
                return {"shared": by_file(plugin.shared), "tests": plugin.tests}

            began = time.monotonic()
            one = forked(work, 900)
            if not isinstance(one, dict):
                raise SystemExit(f"{name}: {one or 'hangs'}")
            bad = [n for n, t in one["tests"].items() if not t["good"]]
            sys.stdout.write(f"{name}: {len(one['tests'])} tests, {time.monotonic() - began:.0f} s, left out {bad}\n")  # fmt: skip
            sys.stdout.flush()
            old[name] = {"key": key, **one}
            KEPT.parent.mkdir(exist_ok=True)
            KEPT.write_text(json.dumps(old), encoding="utf-8")
        found[name] = old[name]
    return found


def running(
    held: dict[str, Any], name: str, lines: range, own: Iterable[str]
) -> list[tuple[str, float]]:
    """Tests that run one of these lines, and their seconds: those that run it themselves, then own folders, quickest first."""
    own, found = tuple(f"tests/{folder}/" for folder in own), []
    for file, one in held.items():
        shared = any(line in lines for line in one["shared"].get(name, ()))
        for test, what in one["tests"].items():
            direct = any(line in lines for line in what.get("lines", {}).get(name, ()))
            if what["good"] and (direct or shared):
                found.append((not direct, not file.startswith(own), what["seconds"], test))
    return [(test, seconds) for *_, seconds, test in sorted(found)]


class Chosen:
    """A plugin that remembers the first failure; a test that takes ten times its time ends the process."""

    def __init__(self, tests: list[tuple[str, float]], seconds: float) -> None:
        self.usual = dict(tests)
        self.until, self.run, self.failed = time.process_time() + seconds, 0, ""

    def pytest_collection_modifyitems(self, items: list[Any]) -> None:
        place = {test: n for n, test in enumerate(self.usual)}
        items[:] = sorted(
            (i for i in items if i.nodeid in place), key=lambda item: place[item.nodeid]
        )

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: Any) -> Any:
        signal.setitimer(signal.ITIMER_PROF, 5 + 10 * self.usual[item.nodeid])  # of CPU
        yield
        signal.setitimer(signal.ITIMER_PROF, 0)
        self.run += 1
        if time.process_time() > self.until:
            item.session.shouldstop = "the time is out"

    def pytest_runtest_logreport(self, report: Any) -> None:
        if report.failed and not self.failed:
            self.failed = report.nodeid

    def pytest_collectreport(self, report: Any) -> None:
        if report.failed and not self.failed:
            self.failed = f"{report.nodeid} (import)"

    def told(self) -> tuple[str, str, int]:
        """`passes` or `fails`, the test that failed, how many were run."""
        return ("fails" if self.failed else "passes"), self.failed, self.run


Ended = tuple[str, str, int]


class Warm:
    """A plugin with every test collected and none run: each fault is tried in a fork of it."""

    def __init__(self, tree: Path, work: Callable[[Warm], None]) -> None:
        self.tree, self.work = tree, work
        #: file, name and first line -> the functions there; what answers once a process
        self.functions: dict[tuple[str, str, int], list[FunctionType]] = {}
        self.cached: list[Any] = []

    @pytest.hookimpl(tryfirst=True)
    def pytest_runtestloop(self, session: Any) -> bool:
        self.session, self.items = session, {item.nodeid: item for item in session.items}
        session.config._tmp_path_factory.getbasetemp()
        for one in gc.get_objects():
            if isinstance(one, FunctionType):
                self.functions.setdefault(_key(one.__code__), []).append(one)
            elif isinstance(one, functools._lru_cache_wrapper) and "shaftwright" in (one.__module__ or ""):  # fmt: skip
                self.cached.append(one)
        gc.freeze()
        self.work(self)
        return True

    def changed(self, path: Path, made: str) -> None:
        """Give every function of a file its code in the changed text."""
        below = [compile(made, str(path), "exec", dont_inherit=True)]
        while below:
            code = below.pop()
            below += [one for one in code.co_consts if isinstance(one, CodeType)]
            for function in self.functions.get(_key(code), ()):
                function.__code__ = code
        for one in self.cached:
            one.cache_clear()

    def run(
        self, tests: list[tuple[str, float]], seconds: float, path: Path | None = None,
        made: str = "", anew: bool = False,
    ) -> Ended:  # fmt: skip
        """Some tests in their order; with a changed file, imported anew where no function alone is changed."""

        def work() -> Ended:
            plugin = Chosen(tests, seconds)
            if anew:
                for name, module in list(sys.modules.items()):
                    if (getattr(module, "__file__", None) or "").startswith(f"{self.tree}/"):
                        del sys.modules[name]
                signal.setitimer(signal.ITIMER_PROF, 60)
                files = sorted({test.partition("::")[0] for test, _ in tests})
                pytest.main([*WORDS, "-x", *files], plugins=[plugin])
                return plugin.told()
            if path is not None:
                self.changed(path, made)
            self.session.config.pluginmanager.register(plugin)
            items = [self.items[test] for test, _ in tests]
            for item, after in zip(items, [*items[1:], None], strict=True):
                item.config.hook.pytest_runtest_protocol(item=item, nextitem=after)
                if plugin.failed or self.session.shouldstop:
                    break
            return plugin.told()

        found = forked(work, 20 * seconds + 300)
        if isinstance(found, RuntimeError):
            return "broke", str(found), 0
        return found or ("hangs", "", 0)


def _key(code: CodeType) -> tuple[str, str, int]:
    return code.co_filename, code.co_qualname, code.co_firstlineno


def collected(tree: Path, files: Iterable[str], work: Callable[[Warm], None]) -> None:
    """Collect the tests of these files, then do the work, which may fork."""
    words = [*WORDS, "-s", f"--basetemp={tree}/tests-tmp"]
    code = pytest.main([*words, *files], plugins=[Warm(tree, work)])
    if code:
        raise SystemExit(f"the tests could not be collected: {code}")
