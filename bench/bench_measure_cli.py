"""How long the measuring commands take: a notebook of 10,000 entries, a CSV of 100,000 readings."""

import json

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
    lines = "".join(f"{v},{s},{k},505\n" for v, s, k in rows)
    (folder / "c.csv").write_text("speed,string,stringing,arrow_mass\n" + lines)
    return folder


@pytest.mark.parametrize("name", ["n.yaml", "c.csv"])
def test_load_and_compare(benchmark, files, name):
    def whole():
        result = CliRunner().invoke(cli, ["compare", str(files / name), "--json"])
        return sum(group["n"] for group in json.loads(result.stdout)["groups"])

    read = benchmark.pedantic(whole, rounds=3, warmup_rounds=1)
    assert read == (10_000 if name == "n.yaml" else 100_000)


def test_card_with_a_long_notebook(benchmark, files):
    args = ["card", "examples/heron_marsh.yaml", "--notebook", str(files / "n.yaml"), "--json"]
    result = benchmark.pedantic(lambda: CliRunner().invoke(cli, args), rounds=2)
    assert result.exit_code == 0
