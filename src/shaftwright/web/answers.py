"""What the page knows: the papers of the folder read, and the answers worked out from them.

Answers are kept by the revisions of the files they rest on, and worked out one after another beside
the page, so that it stays quick. All of one state rest on one scenario.
"""

from __future__ import annotations

import threading
from collections import Counter, OrderedDict
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from concurrent.futures import TimeoutError as TooSoon
from contextlib import suppress
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from shaftwright.answers.arrows.shot import Arrow
from shaftwright.answers.choose.choose import Choice, choose
from shaftwright.answers.choose.listing import ListedBuild
from shaftwright.answers.choose.map import (
    BuildMap,
    Difference,
    Seen,
    build_map,
    differences,
    look,
    moved,
    nearest_index,
)
from shaftwright.answers.diagnose import Diagnosis, Progress, arrow_of, diagnose, progress
from shaftwright.answers.scenario import Scenario, scenario
from shaftwright.errors import Fault, InputError, ShaftwrightError
from shaftwright.files.bow import own_rules_of
from shaftwright.files.notebook import Notebook, parse_notebook
from shaftwright.files.rig import rig_from
from shaftwright.files.stock import stock_of
from shaftwright.files.strict_yaml import LARGEST_BYTES, parse_yaml
from shaftwright.records.builds import Builds
from shaftwright.records.notebook import AnyEntry, BareShaft
from shaftwright.records.rig import Rig
from shaftwright.records.stock import Stock
from shaftwright.rules.load import RuleBook
from shaftwright.rules.own import load_own
from shaftwright.watched import Pace
from shaftwright.web.guard import Door
from shaftwright.web.workbook import ABSENT, FILES, Version, What, Workbook, revision_of

if TYPE_CHECKING:
    from shaftwright.answers.launch.fit import Glance
    from shaftwright.render.pictures.map import MapSheet

#: how long a page waits for an answer before it is shown without [s]
READY_IN: Final = 0.06
MANY: Final = 500
ON_MAP: Final = 6
_KEPT_ANSWERS: Final = 3
_KEPT_LOOKS: Final = 500


@dataclass(frozen=True)
class Papers:
    """The folder as read at one moment; a record is None without its file, or where it cannot be read."""

    versions: dict[What, Version]
    rig: Rig | None
    stock: Stock | None
    notebook: Notebook | None
    #: what is wrong with each file; the good entries of a notebook count all the same
    faults: dict[What, tuple[Fault, ...]]
    #: the rig before its last change
    before: Rig | None = None
    #: the archer's own rules, what is wrong with them, and a word that changes with them
    own: RuleBook | None = None
    own_faults: tuple[Fault, ...] = ()
    own_revision: str = ABSENT

    @property
    def entries(self) -> tuple[AnyEntry, ...]:
        """The entries of the notebook."""
        return self.notebook.entries if self.notebook is not None else ()

    @property
    def units(self) -> str:
        """What bare distances and offsets mean."""
        return self.rig.units if self.rig is not None else "imperial"

    @property
    def key(self) -> str:
        """The revisions in one word."""
        return ".".join((*(self.versions[what].revision for what in FILES), self.own_revision))


def read_papers(workbook: Workbook, kept: Papers | None = None) -> Papers:
    """Read the files, unless all are as they were; what is wrong with one never hides the others."""
    versions: dict[What, Version] = {}
    faults: dict[What, tuple[Fault, ...]] = {}
    for what in FILES:
        try:
            versions[what] = workbook.read(what)
        except InputError as error:
            versions[what] = Version(None, "unreadable")
            faults[what] = tuple(error.faults)
    revision, own, own_faults = own_revision(workbook.folder), None, tuple[Fault, ...]()
    if kept is not None and (kept.versions, kept.own_revision) == (versions, revision):
        return kept
    found: dict[str, Any] = dict.fromkeys(FILES)
    for what, version in versions.items():
        try:
            if version.text is not None:
                found[what] = read_text(what, version.text, FILES[what])
        except InputError as error:
            faults[what] = tuple(error.faults)
    if found["notebook"] is not None and found["notebook"].faults:
        faults["notebook"] = found["notebook"].faults
    folder = own_rules_of(workbook.folder)
    try:
        own = load_own(folder) if folder is not None else None
    except InputError as error:
        own_faults = tuple(error.faults)
    return Papers(
        versions, found["rig"], found["stock"], found["notebook"], faults, found["before"], own,
        own_faults, revision,
    )  # fmt: skip


def own_revision(bow: Path) -> str:
    """A word that changes whenever a file of the archer's own rules does."""
    folder = own_rules_of(bow)
    if folder is None:
        return ABSENT
    texts = [str(folder)]
    try:
        for path in filter(Path.is_file, sorted(folder.glob("*.y*ml"))):
            with path.open("rb") as stream:
                texts.append(f"{path.name}\n{stream.read(LARGEST_BYTES)!r}")
    except OSError as error:
        texts.append(str(error))
    return revision_of("\n".join(texts))


def read_text(what: What, text: str, name: str) -> Rig | Stock | Notebook:
    """One file from its text; `name` is how its faults call it."""
    if what == "stock":
        return stock_of([(name, text)])
    if what == "notebook":
        return parse_notebook(text, name)
    return rig_from(parse_yaml(text, name))


@dataclass
class Answer:
    """Everything worked out from one state of the papers."""

    papers: Papers
    choice: Choice
    _maps: dict[int, BuildMap] = field(default_factory=dict)
    _sheets: dict[int, MapSheet] = field(default_factory=dict)
    _seen: OrderedDict[tuple[object, ...], Seen] = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @cached_property
    def asked(self) -> Scenario:
        """The one scenario that all of it rests on."""
        return self.choice.question

    @cached_property
    def planned(self) -> ListedBuild | None:
        """The arrow that the plan names, among the listed ones; None while it names none of them."""
        name = self.asked.plan.next.shaft
        if all(b.shaft != name for b in self.choice.listed):
            return None
        # beside it another build of its shaft may be ranked
        own = (b for b in self.choice.builds if b.shaft == name)
        return max(own, key=lambda b: b.marked, default=None)

    def place_of(self, shaft: str) -> int:
        """Which listed build is of a shaft; 0, the best, when it is not listed."""
        return next((i for i, b in enumerate(self.choice.listed) if b.shaft == shaft), 0)

    def _drawn(self, place: int) -> Choice:
        """The choice with few builds listed, the one of `place` first."""
        listed = self.choice.listed
        if not listed:
            return self.choice
        others = [b for i, b in enumerate(listed[:ON_MAP]) if i != place]
        return replace(self.choice, listed=(listed[place], *others[: ON_MAP - 1]))

    def map(self, place: int) -> BuildMap:
        """The map with the strip of one listed shaft, drawn up once."""
        with self._lock:
            if place not in self._maps:
                drawn = build_map(self._drawn(place))
                self._maps[place] = replace(drawn, marks=self.choice.builds[:ON_MAP])
            return self._maps[place]

    def sheet(self, place: int) -> MapSheet:
        """The map as the page shows it, drawn once."""
        from shaftwright.render.pictures.map import map_sheet

        if place not in self._sheets:
            self._sheets[place] = map_sheet(self.map(place), "map-sheet")
        return self._sheets[place]

    def seen(self, place: int, length_in: float | None, front_gr: float | None) -> Seen:
        """The build at a place of a shaft's map, held inside its edges; its best build by default."""
        if length_in is None or front_gr is None:
            return self._look(("best", place), lambda: self.map(place).base)
        drawn = self.map(place)
        length = min(max(length_in, drawn.shortest_in), drawn.full_in)
        front = min(max(front_gr, drawn.lowest_gr), drawn.highest_gr)
        return self._look((place, length, front), lambda: moved(drawn.base, length, front))

    def _look(self, key: tuple[object, ...], build: Callable[[], Builds]) -> Seen:
        """A build looked at once; the one kept to compare comes back with every move."""
        found = self._seen.get(key)
        if found is None:
            found = self._seen[key] = look(self.asked, build(), self.choice.candidates)
            while len(self._seen) > _KEPT_LOOKS:
                with suppress(KeyError):
                    self._seen.popitem(last=False)
        return found

    def noted(self) -> tuple[Seen, Arrow] | None:
        """The arrow in question as it was shot bare; None before any shot with the bow as it stands."""
        if not any(arrow.ends for arrow in self.asked.where.here):
            return None
        arrow = arrow_of(self.asked)
        return look(self.asked, arrow.known.build), arrow

    @cached_property
    def diagnosis(self) -> Diagnosis | None:
        """What the bare shafts say, as `bareshaft` says it; None where there are none."""
        if not any(isinstance(entry, BareShaft) for entry in self.asked.entries):
            return None
        return diagnose(self.asked)

    @cached_property
    def progress(self) -> Progress | None:
        """How the tuning went, end by end; None before its first end."""
        return progress(self.asked)

    def nearest(self, place: int, seen: Seen) -> Seen | None:
        """The build of the stock that comes nearest to what is looked at."""
        ranking = self.choice.ranking
        if not self.choice.listed or ranking is None:
            return None
        index = self.choice.listed[place].shaft_index
        found = nearest_index(self.choice, index, seen.listed.length_in, seen.listed.front_gr)
        return self._look(("ranked", found), lambda: ranking.builds.take([found]))

    def why(self, kept: Seen, here: Seen) -> tuple[Difference, ...]:
        """Why the build looked at acts otherwise than the one that was kept."""
        names = (kept.listed.shaft, here.listed.shaft)
        return differences(self.asked, kept.build, here.build, names)


def work_out(papers: Papers) -> Answer:
    """The answer to one state of the papers, which have a rig: that of the commands, the plan first."""
    asked = scenario_of(papers)
    _ = asked.plan  # here, beside the page
    return Answer(papers, choose(asked, papers.stock, top=MANY))


def scenario_of(papers: Papers) -> Scenario:
    """Rig, stock, notebook and the rig before, as one."""
    assert papers.rig is not None
    if papers.own_faults:
        raise InputError(papers.own_faults)
    book = papers.notebook
    entries, lines = (book.entries, book.lines) if book is not None else ((), ())
    return scenario(papers.rig, None, papers.stock, entries, lines, papers.before, own=papers.own)


class State:
    """What every route may use: the folder, whom the page answers, and the answers by revision.

    `at` begins the address of every page of this bow, where several are open.

    Answers are worked out once, one at a time, newest papers first.
    """

    def __init__(self, workbook: Workbook, door: Door, at: str = "") -> None:
        self.workbook, self.door, self.at = workbook, door, at
        self._pool = ThreadPoolExecutor(1, thread_name_prefix="answers")
        self._lock = threading.Lock()
        self._futures: OrderedDict[str, Future[Any]] = OrderedDict()
        #: key -> how many wait for it
        self._waited: Counter[str] = Counter()
        self._papers: Papers | None = None
        #: how far the answer is that was begun last
        self.pace = Pace()

    def papers(self) -> Papers:
        """The folder as it stands now; parsed again only when a file has changed."""
        self._papers = read_papers(self.workbook, self._papers)
        return self._papers

    def answer(self, papers: Papers, wait: float | None = None) -> Answer | None:
        """The answer to papers with a rig."""

        def work() -> Answer:
            self.pace = Pace()
            with self.pace.kept():
                return work_out(papers)

        found: Answer | None = self._found(f"answer.{papers.key}", work, wait)
        return found

    def begin_again(self, papers: Papers) -> None:
        """Forget that the answer was stopped."""
        with self._lock:
            self._futures.pop(f"answer.{papers.key}", None)

    def ready(self, wait: float | None = READY_IN, papers: Papers | None = None) -> Answer | None:
        """What is worked out by now, or in a blink; begun if need be. None where there is none yet."""
        papers = papers or self.papers()
        with suppress(ShaftwrightError):
            return self.answer(papers, wait) if papers.rig is not None else None
        return None

    def launch(self, papers: Papers, builds: Builds, key: str, wait: float) -> Glance | None:
        """How one build leaves the bow."""
        answer = self.answer(papers)
        assert answer is not None

        def work() -> Glance:
            from shaftwright.answers.launch.fit import glance

            return glance(answer.asked, builds)

        found: Glance | None = self._found(f"launch.{papers.key}.{key}", work, wait)
        return found

    def _found(self, key: str, work: Callable[[], Any], wait: float | None) -> Any:
        """What was worked out, by whoever asked first; None where it takes longer than one waits."""
        with self._lock:
            future = self._futures.get(key)
            if future is None or future.cancelled():
                future = self._futures[key] = self._pool.submit(work)
            self._futures.move_to_end(key)
            self._waited[key] += 1
            # what somebody waits for is never given up
            for old in [k for k in self._futures if not self._waited[k]]:
                if len(self._futures) <= 2 * _KEPT_ANSWERS:
                    break
                self._futures.pop(old).cancel()
        try:
            return future.result(wait)
        except TooSoon:
            return None
        finally:
            with self._lock:
                self._waited[key] -= 1
                if not self._waited[key]:
                    del self._waited[key]

    def close(self) -> None:
        """Let go of what is still waiting."""
        self._pool.shutdown(wait=False, cancel_futures=True)
