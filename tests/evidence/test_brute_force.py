"""The learned belief against brute force: a dense grid on a model cut to three unknowns, and a long
random walk on the whole model. The likelihoods are written anew here, on SciPy, without tables."""

import math

import numpy as np
import pytest
from scipy import stats

from shaftwright.inference.belief import Belief, prior_belief
from shaftwright.inference.demand import demand_of
from shaftwright.inference.evidence.learn import learn
from shaftwright.inference.evidence.terms import scatter_states
from shaftwright.inference.own_error import DRIVERS
from shaftwright.parameters import parameters, setting
from shaftwright.records.builds import builds_by_numbers
from shaftwright.records.notebook import ENTRY
from shaftwright.records.rig import Rig
from shaftwright.rules.load import RuleBook, rulebook

STATES = scatter_states()
WEIGHT = np.exp(STATES.log_weight) / np.exp(STATES.log_weight).sum()
NU = setting("evidence.scatter_tails")
T_SCALE = math.sqrt((NU - 2) / NU)
LOST, FAR = setting("evidence.lost_group_chance"), setting("evidence.lost_group_sd_in")
SLOPE = parameters("evidence")["slope_in_per_lb"]


def rig_of(**bow):
    return Rig.model_validate(
        {"format": 1, "rig": "grid", "archer": {"hand": "right", "release": "split", "draw_length": 28},
         "bow": {"kind": "recurve", "limbs": "standard", "draw_weight": {"lb": 48, "at": "own_draw"},
                 "brace_height": 7.5, "window": {"cut": "to_centre"}, "rest": "shelf",
                 "plate": {"thickness": 0, "material": "leather"}, **bow},
         "string": {"material": "polyester", "mass": 110, "silencers": 0}}
    )  # fmt: skip


def bare_entry(spine, bare, fletched, **more):
    return ENTRY.validate_python(
        {"kind": "bareshaft", "build": {"spine": spine, "length": 28, "front": 125, "diameter": 0.276,
                                        "gr_per_in": 8, "tail": 25},
         "distance": 20, "bare": bare, "fletched": fletched, "taped": True, **more}
    )  # fmt: skip


def split_logpdf(x, value, low, high):
    below, above = (value - low) / 1.96, (high - value) / 1.96
    d = x - value
    return -0.5 * np.square(np.where(d < 0, d / below, d / above))


@pytest.mark.slow
def test_dense_grid_on_a_model_of_three_unknowns():
    """What archer and arrow ask of their own, the slope, the scatter: posterior moments by plain summation."""
    book = rulebook()
    alone = RuleBook((book.find("O01"),), tables=book.tables)
    bare, fletched = [[-5.0, 0], [-1.0, 1], [-9.5, 0]], [[0.5, 0], [-1.5, 1], [1.0, -1]]
    entries = [bare_entry(560, bare, fletched), bare_entry(560, [[-3.0, 0.0]], fletched)]
    learned = learn(rig_of(), alone, prior_belief(alone), entries, None)

    supply, wanted = 31.4992 / 0.560, 48.0
    # the archer's own 5.88 / 1.96 lb, and the arrow's own 5 % of 48 lb, log-normal from 3 to 8
    asked = np.linspace(-16, 16, 241)
    sizes = 0.05 * np.exp(np.log(8 / 3) / 3.92 * np.linspace(-3, 3, 61))
    share = stats.norm.pdf(np.linspace(-3, 3, 61))
    sds = np.hypot(3.0, wanted * sizes)
    prior = stats.norm.pdf(asked[:, None], 0, sds) @ (share / share.sum())
    slope = np.linspace(0.1, 2.6, 126)
    shift = np.linspace(-40, 40, 801)
    log_post = np.zeros((len(asked), len(slope), len(WEIGHT)))
    log_post += np.log(prior)[:, None, None]
    log_post += split_logpdf(slope, SLOPE.value, SLOPE.low, SLOPE.high)[None, :, None]
    log_post += np.log(WEIGHT)
    off = supply - wanted - asked
    offset = off[:, None] * slope[None, :]  # stiffward
    centre = np.mean(fletched, axis=0)[0]
    grid = np.linspace(offset.min() - 1, offset.max() + 1, 400)
    for entry in entries:
        shots = [-(s.at[0] - centre) for s in entry.bare]
        for j in range(len(WEIGHT)):
            sd, own = STATES.bare_sd[j], STATES.fletched_sd[j]
            near = math.hypot(STATES.shift_sd[j], own / math.sqrt(3))
            far = math.hypot(FAR, own / math.sqrt(3))
            density = (1 - LOST) * stats.norm.pdf(shift, 0, near) + LOST * stats.norm.pdf(
                shift, 0, far
            )
            at = grid[:, None] + shift[None, :]
            each = sum(stats.t.logpdf(s, NU, loc=at, scale=sd * T_SCALE) for s in shots)
            value = np.log(np.trapezoid(np.exp(each) * density, shift, axis=1))
            spread = sum((p[0] - centre) ** 2 for p in fletched)
            value += -2 * math.log(own) - spread / (2 * own**2)
            log_post[:, :, j] += np.interp(offset, grid, value)
    post = np.exp(log_post - log_post.max())
    post /= post.sum()
    over_off, over_s = post.sum((1, 2)), post.sum((0, 2))
    mean, mean_s = float(over_off @ off), float(over_s @ slope)
    sd = math.sqrt(float(over_off @ np.square(off - mean)))
    sd_s = math.sqrt(float(over_s @ np.square(slope - mean_s)))
    mean_sigma = float(post.sum((0, 1)) @ STATES.bare_sd)

    found = learned.builds[0].mismatch_lb
    assert found.mean() == pytest.approx(mean, abs=0.05 * sd)
    assert found.std() == pytest.approx(sd, rel=0.05)
    assert learned.slope.mean() == pytest.approx(mean_s, abs=0.05 * sd_s)
    assert learned.slope.std() == pytest.approx(sd_s, rel=0.05)
    assert learned.bare_sd.mean() == pytest.approx(mean_sigma, rel=0.03)
    shares = np.arange(0.1, 1, 0.1)
    deciles = np.interp(shares, np.cumsum(over_off[::-1]), off[::-1])
    assert np.quantile(found, shares) == pytest.approx(
        deciles, abs=0.1 * sd
    )  # its own standard error is 0.03 to 0.04


WORDS = {"slightly_stiff": (2, 12), "stiff": (8, np.inf), "weak": (-np.inf, -8)}


def word_logpdf(z, word, edge=1.5, wrong=0.05):
    low, high = WORDS[word]
    inside = stats.norm.cdf((z - low) / edge) * stats.norm.cdf((high - z) / edge)
    return np.log(wrong + (1 - wrong) * inside)


@pytest.mark.slow
def test_long_random_walk_on_the_whole_model():
    """Every rule, three builds, shots and a word; group shifts are walked, not integrated."""
    book = rulebook()
    rig = rig_of(limbs="high_performance", window={"cut": "past_centre", "by": "1/8 in"})
    fletched = [[0.5, 0], [-1.5, 1], [1.0, -1]]
    bares = {500: [[-1.0, 0], [4.0, 0], [1.5, 1]], 430: [[-6.0, 0], [-2.0, 1], [-14.0, 0]]}
    entries = [bare_entry(s, b, fletched) for s, b in bares.items()]
    entries.append(ENTRY.validate_python(
        {"kind": "bareshaft", "build": {"spine": 400, "length": 29, "front": 225}, "distance": 12,
         "reads": "slightly_stiff", "taped": True}))  # fmt: skip
    prior = prior_belief(book)
    learned = learn(rig, book, prior, entries, None)

    builds = builds_by_numbers([500, 430, 400], [28, 28, 29], [125, 125, 225])
    demand = demand_of(rig, builds, book)
    drivers = [*sorted({c.driver for c in demand.columns}), *DRIVERS]
    supply = 31.4992e3 / np.array([500, 430, 400])
    random = np.random.default_rng(7)
    chains, rows = 1600, len(drivers)
    # rows: drivers, slope score, two group shifts; the scatter state beside
    centre = np.mean(fletched, axis=0)[0]
    spread = sum((p[0] - centre) ** 2 for p in fletched)
    shots = [np.array([-(x - centre) for x, _ in bares[s]]) for s in (500, 430)]
    below, above = (SLOPE.value - SLOPE.low) / 1.96, (SLOPE.high - SLOPE.value) / 1.96

    def of_x(x):
        """What no scatter state changes: the prior, and what each build is off."""
        scores = {d: x[i] for i, d in enumerate(drivers)}
        spare = np.zeros(x.shape[1])
        told = {**dict.fromkeys(prior.scores, spare), **scores}
        z = supply[:, None] - demand.draws(Belief(told, errors=learned.belief.errors))
        total = -0.5 * np.square(x[:rows]).sum(axis=0)
        d = x[rows] - SLOPE.value
        total += -0.5 * np.square(np.where(d < 0, d / below, d / above))
        total[x[rows] < 0.1] = -np.inf
        return total, z

    def log_post(x, state, before, z):
        slope, shift, total = x[rows], x[rows + 1 :], before.copy()
        sd, own = STATES.bare_sd[state], STATES.fletched_sd[state]
        near, far = (
            np.hypot(STATES.shift_sd[state], own / np.sqrt(3)),
            np.hypot(FAR, own / np.sqrt(3)),
        )
        total += STATES.log_weight[state]
        ratio = supply[:, None] / np.maximum(supply[:, None] - z, 1.0)
        false = setting("evidence.false_stiff_chance") * stats.norm.cdf(
            (setting("evidence.false_stiff_ratio") - ratio) / setting("evidence.false_stiff_width")
        )
        for k in range(2):
            prior_shift = (1 - LOST) * np.exp(-0.5 * (shift[k] / near) ** 2) / near
            prior_shift += LOST * np.exp(-0.5 * (shift[k] / far) ** 2) / far
            total += np.log(prior_shift) - 2 * np.log(own) - spread / (2 * own**2)
            ways = []
            for sign in (1, -1):
                t = (shots[k][:, None] - sign * slope * z[k] - shift[k]) / (sd * T_SCALE)
                ways.append((-(NU + 1) / 2 * np.log1p(t**2 / NU) - np.log(sd)).sum(axis=0))
            total += np.logaddexp(
                ways[0] + np.log1p(-false[k]), ways[1] + np.log(false[k] + 1e-300)
            )
        total += np.logaddexp(
            np.log1p(-false[2]) + word_logpdf(z[2], "slightly_stiff"),
            np.log(false[2] + 1e-300) + word_logpdf(-z[2], "slightly_stiff"),
        )
        return total

    x = random.standard_normal((rows + 3, chains)) * 0.5
    x[rows] = 0.9
    state = random.integers(0, len(WEIGHT), chains)
    before, z = of_x(x)
    logs = log_post(x, state, before, z)
    kept_z, kept_s, kept_x = [], [], []
    size = np.array([*[1.0] * rows, 0.3, 2.0, 2.0])[:, None]
    for step in range(2400):
        if step % 4 == 3:
            new, new_before, new_z = x, before, z
            new_state = random.integers(0, len(WEIGHT), chains)
        else:
            # one random direction, of a size drawn over two decades, so that all scales move
            length = 10 ** random.uniform(-1.3, 0.5, chains)
            ray = random.standard_normal(x.shape)
            new = x + size * length * ray / np.sqrt((ray**2).sum(axis=0))
            new_state, (new_before, new_z) = state, of_x(new)
        new_logs = log_post(new, new_state, new_before, new_z)
        taken = np.log(random.random(chains)) < new_logs - logs
        x = np.where(taken, new, x)
        state, logs, before, z = (
            np.where(taken, new, old)
            for new, old in (
                (new_state, state), (new_logs, logs), (new_before, before), (new_z, z)
            )
        )  # fmt: skip
        if step > 1200 and step % 10 == 0:
            kept_z.append(z), kept_s.append(x[rows]), kept_x.append(x[:rows])
    walked = np.concatenate(kept_z, axis=1)
    for k, build in enumerate(learned.builds):
        sd = walked[k].std()
        assert build.mismatch_lb.std() == pytest.approx(sd, rel=0.05)
        assert build.mismatch_lb.mean() == pytest.approx(walked[k].mean(), abs=0.05 * sd)
    slopes = np.concatenate(kept_s)
    assert learned.slope.std() == pytest.approx(slopes.std(), rel=0.05)
    assert learned.slope.mean() == pytest.approx(slopes.mean(), abs=0.05 * slopes.std())
    # correlations between what two builds are off must agree too: test kits hang on them
    mine = np.corrcoef(np.stack([b.mismatch_lb for b in learned.builds]))
    assert mine == pytest.approx(np.corrcoef(walked), abs=0.05)
    for i, driver in enumerate(drivers):
        rows_x = np.concatenate([k[i] for k in kept_x])
        assert learned.belief.scores[driver].mean() == pytest.approx(rows_x.mean(), abs=0.08)
        assert learned.belief.scores[driver].std() == pytest.approx(rows_x.std(), rel=0.06)
