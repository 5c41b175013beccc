"""A command at a terminal of its own: what it shows is waited for, what is typed is sent."""

import os
import pty
import re
import select
import signal
import sys
import time

from warm import WARM


class Terminal:
    """One run of `shaftwright` whose input is a pseudo-terminal; what stands in `first` is run before it."""

    def __init__(self, *args, cwd, first=""):
        ours, theirs = pty.openpty()
        self.fd = ours
        self.seen = ""
        self.run = WARM.Process(
            target=_at, args=(os.ttyname(theirs), list(map(str, args)), str(cwd), first)
        )
        self.run.start()
        # it opens the other side itself; ours may not seem closed before
        self.wait_for(BEGUN)
        os.close(theirs)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.run.is_alive():
            self.run.kill()
        self.run.join()
        os.close(self.fd)

    def _more(self, seconds):
        ready, _, _ = select.select([self.fd], [], [], seconds)
        if not ready:
            return False
        try:
            some = os.read(self.fd, 65536)
        except OSError:  # the other side is closed
            return False
        self.seen += some.decode(errors="replace").replace("\r\n", "\n")
        return bool(some)

    def wait_for(self, text, seconds=30):
        """What is shown up to a text; the rest is kept for the next one."""
        end = time.monotonic() + seconds
        while text not in self.seen:
            if not self._more(0.2) and (not self.run.is_alive() or time.monotonic() > end):
                while self._more(0.2):
                    pass
                if text in self.seen:
                    break
                raise AssertionError(f"{text!r} was not shown; there was:\n{self.seen}")
        before, _, self.seen = self.seen.partition(text)
        return before + text

    def answer(self, question, typed=""):
        """Wait for a question, then type the answer and Enter."""
        shown = self.wait_for(question)
        shown += self.wait_for(" " if question.endswith(":") else ": ")
        os.write(self.fd, (typed + "\n").encode())
        return shown

    def end(self, seconds=30):
        """What is shown until the command ends, and its exit code."""
        end = time.monotonic() + seconds
        while self.run.is_alive():
            self._more(0.2)
            assert time.monotonic() < end, self.seen
        while self._more(0.2):
            pass
        return re.sub(r"\r", "", self.seen), self.run.exitcode


BEGUN = "\a"


def _at(terminal, args, cwd, first):
    """In the new process: the terminal is its own, as if it had been typed there."""
    os.setsid()
    fd = os.open(terminal, os.O_RDWR)  # whoever leads a session gets the first terminal it opens
    os.write(fd, BEGUN.encode())
    for own in range(3):
        os.dup2(fd, own)
    sys.stdin, sys.stdout, sys.stderr = (
        open(own, mode, closefd=False)  # noqa: SIM115
        for own, mode in ((0, "r"), (1, "w"), (2, "w"))
    )
    signal.signal(signal.SIGINT, signal.default_int_handler)
    os.environ |= {"TERM": "dumb", "COLUMNS": "80", "OPENBLAS_NUM_THREADS": "1"}
    os.chdir(cwd)
    exec(first, {})
    from shaftwright.cli.main import main

    sys.argv = ["shaftwright", *args]
    main()
