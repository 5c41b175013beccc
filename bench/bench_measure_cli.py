"""How long the measuring commands take: a notebook of 10,000 entries, a CSV of 100,000 readings."""

import json
import os
import resource
import subprocess
import sys

import numpy as np
import pytest
from click.testing import CliRunner

from shaftwright.cli.main import cli


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    folder = tmp_path_factory.mktemp("bench")
    rng = np.random.default_rng(1)
    speeds = 171 + rng.normal(0, 1.5, 100_000)
    rows = [(v, "AB"[i // 10 % 2], i // 20 % 40) for i, v in enumerate(speeds.round(1).tolist())]
    entry = "- {{kind: chrono, speed: {} fps, arrow_mass: 505 gr, string: {}, stringing: {}}}\n"
    (folder / "n.yaml").write_text("".join(entry.format(*row) for row in rows[:10_000]))
    long = (
        "- kind: chrono\n  date: 2026-05-{:02d}\n  speed: {} fps\n  arrow_mass: 505 gr\n  string: {}\n"
        "  stringing: {}\n  rig_state: {{draw_weight: 47 lb, brace: 7 1/2 in}}\n  remark: steady hand\n"
    )
    (folder / "long.yaml").write_text(
        "".join(long.format(r[2] % 28 + 1, *r) for r in rows[:10_000])
    )
    lines = "".join(f"{v},{s},{k},505\n" for v, s, k in rows)
    (folder / "c.csv").write_text("speed,string,stringing,arrow_mass\n" + lines)
    return folder


def cold_cpu_s(*args):
    """Processor time of one whole command, started anew, user and system [s]."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, "-m", "shaftwright", *map(str, args)], check=True, capture_output=True,
        env=os.environ | {"OPENBLAS_NUM_THREADS": "1"},
    )  # fmt: skip
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


@pytest.mark.parametrize("name", ["n.yaml", "long.yaml", "c.csv"])
def test_cold_compare_stays_under_3_s_of_processor_time(files, name):
    """10,000 entries in one line or in eight each, 100,000 rows: the best of three starts."""
    assert min(cold_cpu_s("compare", files / name) for _ in range(3)) < 3.0


@pytest.mark.parametrize("name", ["n.yaml", "c.csv"])
def test_load_and_compare(benchmark, files, name):
    def whole():
        result = CliRunner().invoke(cli, ["compare", str(files / name), "--json"])
        return sum(group["n"] for group in json.loads(result.stdout)["groups"])

    read = benchmark.pedantic(whole, rounds=3, warmup_rounds=1)
    assert read == (10_000 if name == "n.yaml" else 100_000)


def test_card_with_a_long_notebook(benchmark, files):
    args = ["card", "examples/heron_marsh/rig.yaml", "--notebook", str(files / "n.yaml"), "--json"]
    result = benchmark.pedantic(lambda: CliRunner().invoke(cli, args), rounds=2)
    assert result.exit_code == 0
