"""Processes of their own that need not begin cold: forked from a server that has the product loaded.

For tests of what a process does to files and terminals. What a cold start is like, tests/core asks of real ones.
"""

import multiprocessing

WARM = multiprocessing.get_context("forkserver")
WARM.set_forkserver_preload(
    ["shaftwright.cli.note", "shaftwright.cli.next", "shaftwright.bow", "shaftwright.files.notebook",
     "shaftwright.answers.choose.choose", "shaftwright.inference.evidence.learn", "shaftwright.render.screens.next",
     "shaftwright.answers.plan.plan", "shaftwright.cli.note.questions"]
)  # fmt: skip
