"""Long work beside the page: one job at a time, with its stage told and a stop that stops."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
import time
from dataclasses import dataclass, field
from typing import Any, Literal

from shaftwright.errors import printable
from shaftwright.web.worker import STAGES

State = Literal["working", "done", "failed", "stopped"]


@dataclass
class Job:
    """One run of the worker.

    Attributes
    ----------
    key : str
        Revisions of the papers it rests on.
    state : str
        working | done | failed | stopped.
    stage : int
        Index into `STAGES`.
    result : dict
        The worker's last words.
    """

    key: str
    process: subprocess.Popen[str]
    state: State = "working"
    stage: int = 0
    result: dict[str, Any] = field(default_factory=dict)
    began: float = field(default_factory=time.monotonic)
    took: float = 0.0

    @property
    def seconds(self) -> float:
        """How long it has been working."""
        return self.took or time.monotonic() - self.began

    def as_dict(self) -> dict[str, Any]:
        """For the page's script."""
        return {
            "state": self.state, "stage": self.stage, "of": len(STAGES),
            "told": STAGES[self.stage], "seconds": round(self.seconds, 1),
        }  # fmt: skip


class Jobs:
    """Keeps the one job; a new one stops the old."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self.job: Job | None = None

    def start(self, key: str, request: dict[str, Any]) -> Job:
        """Begin a job.

        Parameters
        ----------
        key : str
            Revisions of the papers.
        request : dict
            For the worker.

        Returns
        -------
        Job
            Working.
        """
        self.stop()
        environment = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "PYTHONIOENCODING": "utf-8"}
        process = subprocess.Popen(
            [sys.executable, "-m", "shaftwright.web.worker"], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, encoding="utf-8",
            env=environment,
        )  # fmt: skip
        job = Job(key, process)
        with self._lock:
            self.job = job
        threading.Thread(target=_follow, args=(job, json.dumps(request)), daemon=True).start()
        return job

    def stop(self) -> None:
        """Stop the job if one is working."""
        with self._lock:
            job = self.job
        if job is not None and job.state == "working":
            job.state = "stopped"
            job.took = time.monotonic() - job.began
            job.process.kill()
            job.process.wait(10)


def _follow(job: Job, request: str) -> None:
    process = job.process
    assert process.stdin is not None
    assert process.stdout is not None
    with process, process.stdout:
        try:
            process.stdin.write(request)
            process.stdin.close()
            for line in process.stdout:
                message = json.loads(line)
                if "stage" in message:
                    job.stage = message["stage"]
                else:
                    job.result = message
        except (OSError, ValueError):
            pass  # it was stopped, or died; told below
        process.wait()
    job.took = job.took or time.monotonic() - job.began
    if job.state == "stopped":
        return
    if "answer" in job.result:
        job.state = "done"
        return
    faults = job.result.get("faults") or ["the list could not be worked out; please try again"]
    job.result = {"faults": [printable(str(fault)) for fault in faults]}
    job.state = "failed"
