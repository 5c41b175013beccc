"""A command at a terminal of its own: what it shows is waited for, what is typed is sent."""

import os
import pty
import re
import select
import signal
import subprocess
import sys
import time

#: Ctrl-C stops it, whatever started the tests
STOPS = "import signal\nsignal.signal(signal.SIGINT, signal.default_int_handler)\n"
MAIN = "from shaftwright.cli.main import main\nmain()\n"


class Terminal:
    """One run of `shaftwright` whose input is a pseudo-terminal."""

    def __init__(self, *args, cwd, first=""):
        ours, theirs = pty.openpty()
        self.fd = ours
        self.seen = ""
        self.run = subprocess.Popen(
            [sys.executable, "-c", STOPS + first + MAIN, *map(str, args)], cwd=cwd, stdin=theirs, stdout=theirs,
            stderr=theirs, start_new_session=True,
            env=os.environ | {"TERM": "dumb", "COLUMNS": "80", "OPENBLAS_NUM_THREADS": "1"},
        )  # fmt: skip
        os.close(theirs)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        if self.run.poll() is None:
            os.killpg(self.run.pid, signal.SIGKILL)
            self.run.wait()
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
            if not self._more(0.2) and (self.run.poll() is not None or time.monotonic() > end):
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
        while self.run.poll() is None:
            self._more(0.2)
            assert time.monotonic() < end, self.seen
        while self._more(0.2):
            pass
        return re.sub(r"\r", "", self.seen), self.run.returncode
