"""One arrow for two rigs or purposes, or the cheapest pair: draws, kits, cuts, budget, options."""

import csv
import io
import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from shop_cases import EXAMPLES, asked, carbon_stock, shop_stock

from shaftwright.answers.shop_joint import joint_question, paired
from shaftwright.answers.shop_kit import kit_question
from shaftwright.answers.shop.musts import read_musts
from shaftwright.answers.shop_solve import solve
from shaftwright.answers.shop_two import shop_two
from shaftwright.answers.shop_wishes import Wishes
from shaftwright.cli.shop import command
from shaftwright.errors import NoAnswer
from shaftwright.files.notebook import load_notebook
from shaftwright.inference.band import match_limits
from shaftwright.render.shop import two_text
from shaftwright.render.shop_csv import csv_text
from shaftwright.render.shop_rows import two_dict

HERON, REED = str(EXAMPLES / "heron_marsh/rig.yaml"), str(EXAMPLES / "reed_lark/rig.yaml")
STOCK, NOTEBOOK = (
    str(EXAMPLES / "heron_marsh/stock.csv"),
    str(EXAMPLES / "heron_marsh/notebook.yaml"),
)


@pytest.fixture(scope="module")
def one():
    return shop_two(asked("reed_lark"), asked("reed_lark", "practice"), shop_stock())


@pytest.fixture(scope="module")
def pair():
    return shop_two(asked("heron_marsh"), asked("reed_lark"), shop_stock())


def run(*args):
    return CliRunner().invoke(command, list(args))


def test_one_arrow_for_two_purposes(one):
    assert one.shared
    assert len(one.finals) == len(one.kits) == 1
    assert one.window[0] < one.window[1]
    assert one.kits[0].chance >= 0.95
    assert len(one.cuts) == 2
    assert one.cuts[0].shortest_safe_in == one.cuts[1].shortest_safe_in


def test_a_pair_for_two_bows_shares_small_things_and_parts(pair):
    assert not pair.shared
    assert len(pair.finals) == len(pair.kits) == len(pair.cuts) == 2
    sundries = [line.item for line in pair.lines if line.kind == "sundry"]
    assert len(sundries) == len(set(sundries))
    assert pair.list_price <= sum(f.price for f in pair.finals) + 1e-9
    for kit, name in zip(pair.kits, ("heron_marsh", "reed_lark"), strict=True):
        assert kit.chance >= 0.95, name


def test_two_bows_share_the_archer_but_not_the_bows_own_doubt():
    first, second = paired(asked("heron_marsh"), asked("reed_lark"))
    bow, archer = (second.book.find(name).code for name in ("bow-own", "archer-own"))
    one, two = first.belief.scores, second.belief.scores
    assert abs(np.corrcoef(one[bow], two[bow])[0, 1]) < 0.1
    assert np.array_equal(one[archer], two[archer])
    same = asked("heron_marsh", "practice")
    assert paired(asked("heron_marsh"), same)[1] is same


@pytest.fixture(scope="module")
def shot():
    notebook = load_notebook(NOTEBOOK)
    return asked("heron_marsh").after(notebook.entries, shop_stock(), lines=notebook.lines)


@pytest.mark.parametrize("turned", [False, True])
def test_what_the_shots_of_one_rig_taught_of_the_archer_counts_for_the_other(shot, turned):
    both = (asked("reed_lark"), shot) if turned else (shot, asked("reed_lark"))
    told = paired(*both)
    other = told[0] if turned else told[1]
    bow, archer = (shot.book.find(name).code for name in ("bow-own", "archer-own"))
    assert np.array_equal(other.belief.scores[archer], shot.belief.scores[archer])
    assert other.belief.learned
    # the bow's own doubt is as wide as before any shot
    assert other.belief.scores[bow].std() == pytest.approx(1.0, abs=0.05)
    assert other.rig.name == "reed-lark"


def test_two_purposes_of_one_rig_share_what_one_notebook_left_in_doubt():
    # sizes told for another arrow would lead the sampler to draws that do not belong together
    entries = load_notebook(NOTEBOOK).entries
    both = [asked("heron_marsh", p).after(entries, shop_stock()) for p in ("hunting", "practice")]
    first, second = paired(*both)
    assert first.belief.learned
    at = first.reference_build()
    one, two = (q.demand(at).draws(q.belief)[0] for q in (first, second))
    assert np.corrcoef(one, two)[0, 1] > 0.99
    own = both[1].demand(at).draws(both[1].belief)[0]
    assert abs(two.mean() - own.mean()) < own.std() / 4
    other = replace(both[1].learned, readings=both[1].learned.readings[:1])
    apart = replace(both[1], learned=other)
    assert paired(both[0], apart)[1] is apart


def test_joint_kit_is_an_arrow_at_some_length_that_suits_both():
    """Intervals of length that meet, against every eighth of an inch tried one by one."""
    first, second = paired(asked("heron_marsh", "practice"), asked("reed_lark", "practice"))
    kit = joint_question(first, second, carbon_stock())
    fronts = kit.fronts
    rows = np.flatnonzero(fronts.shortest_in <= fronts.builds.length_in)[::9]
    from shaftwright.answers.shop_draws import own_scores

    for r in rows:
        lengths = np.arange(fronts.shortest_in[r], fronts.builds.length_in[r] + 1e-9, 0.125)
        builds = replace(fronts.builds.take(np.full(len(lengths), r)), length_in=lengths)
        low, high = match_limits(builds, 0.07)
        sd = builds.spine_sd_pct[0] / 100 * (low + high)[0] / 2
        own = sd * own_scores(int(fronts.shaft[r]), first.belief.size, False)
        inside = np.ones((len(lengths), first.belief.size), dtype=bool)
        for q in (kit.asked, kit.others[0][0]):
            want = q.demand(builds).draws(q.belief) + own
            inside &= (want >= low[:, None]) & (want <= high[:, None])
        packed = np.unpackbits(fronts.packed[r].view(np.uint8)).astype(bool)[: first.belief.size]
        assert packed.mean() == pytest.approx(inside.any(axis=0).mean(), abs=0.02)


def test_a_kit_for_two_costs_no_less_than_for_either():
    first, second = paired(asked("reed_lark"), asked("reed_lark", "practice"))
    need = 0.9
    both = joint_question(first, second, shop_stock())
    joint = solve(both.problem, both.need(need))
    for one in (first, second):
        alone = kit_question(one, shop_stock())
        assert solve(alone.problem, alone.need(need)).cost <= joint.cost


def test_budget_is_kept_or_named(pair):
    answer = shop_two(
        asked("heron_marsh"), asked("reed_lark"), shop_stock(), Wishes(budget=pair.total_price)
    )
    assert answer.total_price <= pair.total_price + 1e-9
    with pytest.raises(NoAnswer, match=r"budget of 200.00 binds.*would do"):
        shop_two(asked("heron_marsh"), asked("reed_lark"), shop_stock(), Wishes(budget=200.0))


def test_wishes_count_for_both():
    wishes = Wishes(
        arrows=6, each=2, wraps=True, musts=read_musts(["material=carbon", "gr_per_lb=9"])
    )
    answer = shop_two(asked("heron_marsh"), asked("reed_lark"), shop_stock(), wishes)
    by_name = shop_stock().by_name
    for final in answer.finals:
        assert final.gr_per_lb >= 9 - 1e-9
        assert final.want.shaft.first.material == "carbon"
        assert final.want.wrap is not None
    shafts = [line for kit in answer.kits for line in kit.lines if line.kind == "shaft"]
    assert all(
        line.quantity == 2 and by_name[line.item.item].material == "carbon" for line in shafts
    )
    alone = shop_two(asked("heron_marsh"), asked("reed_lark"), shop_stock(), Wishes(arrows=0))
    assert (alone.lines, alone.cuts, alone.finals) == ((), (), ())
    assert len(alone.kits) == 2


@pytest.mark.parametrize("which", ["one", "pair"])
def test_json_and_csv_add_up(which, request):
    answer = request.getfixturevalue(which)
    told = two_dict(answer)
    json.dumps(told, allow_nan=False)
    rows = [*told["test_kit"], *told["list"]]
    assert told["total_price"] == pytest.approx(sum(row["price"] or 0.0 for row in rows))
    assert told["cut_plan"]["steps"]
    table = list(csv.DictReader(io.StringIO(csv_text(answer), newline="")))
    assert len(table) == len(rows) + 1
    assert float(table[-1]["price"]) == pytest.approx(told["total_price"])
    text = two_text(answer)
    assert max(map(len, text.splitlines())) <= 80
    assert len(" ".join(text.split("\n\n")[0].split())) <= 160


REFUSED = {
    ("--notebook", NOTEBOOK): "2 rigs take --notebook twice",
    ("--before", HERON): "2 rigs take --before twice",
    ("--before", HERON, "--before", "-"): "--before needs --notebook",
    ("--purpose", "hunting", "--purpose", "target"): "two rigs, or one rig with two purposes",
}


@pytest.mark.parametrize("options", REFUSED)
def test_what_cannot_apply_is_refused_in_one_line(options):
    result = run(HERON, REED, "--stock", STOCK, *options)
    assert result.exit_code == 2
    assert REFUSED[options] in result.output


def test_command_takes_a_notebook_for_each_rig(tmp_path):
    target = tmp_path / "list.csv"
    args = (HERON, REED, "--stock", STOCK, "--json", "--arrows", "0")
    before = json.loads(run(*args).stdout)
    result = run(*args, "--notebook", NOTEBOOK, "--notebook", "-", "--csv", str(target))
    assert result.exit_code == 0, result.output
    after = json.loads(result.stdout)
    alone = [b["test_order"][0]["chance_straight"] for b in before["test_kits"]]
    assert alone != [b["test_order"][0]["chance_straight"] for b in after["test_kits"]]
    assert target.read_text(encoding="utf-8").startswith("part,item,kind")


def test_basis_changes_the_answer():
    told = [
        json.loads(
            run(HERON, REED, "--stock", STOCK, "--json", "--arrows", "0", "--basis", b).stdout
        )
        for b in ("both", "trade")
    ]
    assert told[0]["windows"] != told[1]["windows"]
