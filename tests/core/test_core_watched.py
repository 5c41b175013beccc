"""Long work is told to whoever watches it, and to nobody else."""

import io
import sys

import pytest

import shaftwright
from shaftwright.cli import common
from shaftwright.watched import watcher


class Terminal(io.StringIO):
    def isatty(self):
        return True


PIECES = ["x" * 200_000, "x" * 300_000]


@pytest.mark.parametrize(
    ("stream", "many", "told"),
    [(Terminal, 500_000, True), (Terminal, 499_999, False), (io.StringIO, 500_000, False)],
)
def test_a_bar_only_for_long_work_before_a_person(monkeypatch, stream, many, told):
    monkeypatch.setattr(sys, "stderr", stream())
    assert list(common.bar(iter(PIECES), many)) == PIECES
    shown = sys.stderr.getvalue()
    assert ("100%" in shown and "Arrows weighed" in shown) if told else shown == ""


@pytest.mark.slow
def test_a_watcher_hears_of_every_build_and_can_end_the_work():
    bow = shaftwright.open("examples/heron_marsh")
    unwatched, heard = bow.choose().to_dict(), []

    def watch(pieces, many):
        for piece in pieces:
            heard.append((len(piece), many))
            yield piece

    def stop(pieces, many):
        yield next(pieces)
        raise KeyboardInterrupt

    set_before = watcher.set(watch)
    try:
        assert bow.choose().to_dict() == unwatched
        (many,) = {many for _, many in heard}
        assert sum(count for count, _ in heard) == many > 1000
        watcher.set(stop)
        with pytest.raises(KeyboardInterrupt):
            bow.choose()
    finally:
        watcher.reset(set_before)
