"""What each distinct bare build's shots say of its mismatch, tabulated once so that draws are cheap.

Every shot is read through a scatter with heavy tails, every group through a shift of its own; both
sizes are unknown and shared, on a small grid of `scatter states`. A build's shots then depend on
one number only, the stiffward offset q = slope x mismatch at 20 yd, and its words on the mismatch z.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shaftwright.arrays import Array
from shaftwright.inference.evidence.look import Look
from shaftwright.parameters import parameters, setting
from shaftwright.physics import normal
from shaftwright.records.notebook import BareShaft, Broadhead
from shaftwright.rules.sections import evidence_rules

Q_REACH, Q_STEP, Q_FINE = 64.0, 0.5, 0.1
Z_REACH, Z_STEP = 70.0, 0.1
#: mismatches of `BuildTerms.words` [lb], and the offsets that shots are first tabulated over [in]
Z = np.linspace(-Z_REACH, Z_REACH, round(2 * Z_REACH / Z_STEP) + 1)
_Q = np.linspace(-Q_REACH, Q_REACH, round(2 * Q_REACH / Q_STEP) + 1)
_SIGMA_STEPS = np.linspace(-2.0, 2.0, 7)
_SHIFT_STEPS = np.array([-1.2, 0.0, 1.2])
_FFT_SIZE = 540  # more than twice the grid, and a product of small primes


@dataclass(frozen=True)
class ScatterStates:
    """A grid of scatter sizes with their chances before any shot.

    Attributes
    ----------
    bare_sd, fletched_sd, shift_sd : array (J,)
        Scatter of bare and fletched shots and of whole groups, at 20 yd [in].
    log_weight : array (J,)
        Log of each state's chance.
    shape : tuple
        Steps of the scatter and of the shift; J is their product.
    """

    bare_sd: Array
    fletched_sd: Array
    shift_sd: Array
    log_weight: Array
    shape: tuple[int, int]


@functools.cache
def scatter_states() -> ScatterStates:
    """The grid, from rules/evidence.yaml; sizes are log-normal over their 95 % range."""

    def ladder(name: str, steps: Array) -> tuple[Array, Array]:
        span = parameters("evidence")[name]
        sd = math.log(span.high / span.low) / (2 * normal.Z95)
        weight = np.exp(-0.5 * steps**2)
        return span.value * np.exp(sd * steps), weight / weight.sum()

    sigma, sigma_weight = ladder("bare_sd_in", _SIGMA_STEPS)
    shift, shift_weight = ladder("group_shift_sd_in", _SHIFT_STEPS)
    ratio = setting("evidence.fletched_sd_in") / setting("evidence.bare_sd_in")
    bare, moved = (a.ravel() for a in np.meshgrid(sigma, shift, indexing="ij"))
    weight = np.outer(sigma_weight, shift_weight).ravel()
    return ScatterStates(
        bare, bare * ratio, moved, np.log(weight), (len(_SIGMA_STEPS), len(_SHIFT_STEPS))
    )


def slopes(scores: Array) -> Array:
    """Slopes at standard scores, from rules/evidence.yaml: a split normal with a floor.

    Parameters
    ----------
    scores : array
        Standard normal scores.

    Returns
    -------
    array
        Inches at 20 yd for a pound of mismatch [in/lb].
    """
    span = parameters("evidence")["slope_in_per_lb"]
    deviation = normal.split_deviation(scores, *normal.split_sds(span.value, span.low, span.high))
    return np.maximum(span.value + deviation, setting("evidence.least_slope_in_per_lb"))


@dataclass(frozen=True)
class BuildTerms:
    """Log-likelihoods of everything seen of one bare build.

    Attributes
    ----------
    shots : array (J, Q)
        Over the stiffward offset q, from -64 in 0.1 in steps [in].
    words : array (Z,)
        Over the mismatch z, from -70 in 0.1 lb steps [lb].
    false_stiff : array (Z,)
        Chance that a shaft so weak reads stiff.
    marks : float
        Log odds that marks on the bow add to reading stiff falsely.
    """

    shots: Array
    words: Array
    false_stiff: Array
    marks: float = 0.0

    def silent(self) -> BuildTerms:
        """The same build with nothing seen of it."""
        return BuildTerms(np.zeros_like(self.shots), np.zeros_like(self.words), self.false_stiff)


def build_terms(
    seen: Sequence[tuple[BareShaft | Broadhead, Look]], stiffness_lb: float, wanted_lb: float
) -> BuildTerms:
    """Tabulate what was seen of one bare build.

    Parameters
    ----------
    seen : sequence of (entry, look)
        Its readings.
    stiffness_lb : float
        Stiffness of its shaft [lb].
    wanted_lb : float
        Middle of the effective bow weight, for the tolerance that `straight` stands for [lb].

    Returns
    -------
    BuildTerms
        Readings that are void, or whose impact and nock disagree, say nothing.
    """
    states = scatter_states()
    coarse = np.zeros((len(states.bare_sd), len(_Q)))
    words = np.zeros(len(Z))
    tails: list[Array] = []
    for entry, look in seen:
        if not look.counts:
            continue
        if isinstance(entry, Broadhead):
            side = "straight" if entry.together else look.side
            if side is not None:
                words += _sided(side, "broadhead_misread")
            continue
        weight = setting("evidence.marked_weight") if entry.marks in ("plate", "shelf") else 1.0
        if len(look.bare):
            half = look.tail == "straight" and look.side != "straight"
            share = setting("evidence.impact_alone_weight") if half else 1.0
            coarse += weight * share * shot_table(look)
        if entry.reads is not None:
            tolerance_lb = setting("matching.tolerance_pct") / 100 * wanted_lb
            low, high = evidence_rules().words.spans[entry.reads].limits(tolerance_lb)
            share = setting("evidence.words_beside_shots_weight") if len(look.bare) else 1.0
            words += weight * share * _word(low, high)
        if look.tail is not None:
            misread = "nock_misread" if look.tail_seen else "butt_misread"
            tails.append(weight * _sided(look.tail, misread))
    if tails:
        # one pair of eyes and one habit of release: n groups are not n independent witnesses
        words += sum(tails) / len(tails) * len(tails) ** setting("evidence.tail_repeat_power")
    return BuildTerms(
        _refined(coarse), words, _false_stiff(stiffness_lb), _marks([e for e, _ in seen])
    )


def _marks(entries: Sequence[BareShaft | Broadhead]) -> float:
    """Log odds of a slapping tail from marks looked for; later looks at one build count less."""
    hit, clear = setting("evidence.marks_if_false_stiff"), setting("evidence.marks_if_clear")
    told = {"plate": math.log(hit / clear), "none": math.log((1 - hit) / (1 - clear))}
    looked = [told[e.marks] for e in entries if isinstance(e, BareShaft) and e.marks in told]
    return sum(looked) / math.sqrt(len(looked)) if looked else 0.0


def _false_stiff(stiffness_lb: float) -> Array:
    """Chance over `Z` that a shaft of this stiffness reads stiff because it is far too weak."""
    ratio = stiffness_lb / np.maximum(stiffness_lb - Z, 1.0)
    score = (setting("evidence.false_stiff_ratio") - ratio) / setting("evidence.false_stiff_width")
    return setting("evidence.false_stiff_chance") * normal.cdf(score)


def shot_table(look: Look) -> Array:
    """Log-likelihood of one group over the stiffward offset, for every scatter state.

    Parameters
    ----------
    look : Look
        With bare shots.

    Returns
    -------
    array (J, 257)
        Over offsets from -64 to 64 in, half an inch apart.

    Notes
    -----
    Shots scatter by a Student t about the group's own centre, which lies a normal shift from the
    true offset: the group's, and that of the fletched centre. The product over shots is carried
    through the shift by a convolution. A lost group lies anywhere.
    """
    states = scatter_states()
    nu = setting("evidence.scatter_tails")
    # the scatter's own steps; each stands in the states once for every step of the shift
    shifts = states.shape[1]
    sd = states.bare_sd[::shifts, None]
    # a t of the stated standard deviation: its scale is smaller by sqrt((nu - 2) / nu)
    scale = sd * math.sqrt((nu - 2) / nu)
    shots = np.clip(look.bare[:, 0], -Q_REACH, Q_REACH)
    away = np.square(shots[:, None] - _Q)
    heavy = 1.0 + away[:, None, :] / (nu * scale**2)
    log_t = -(nu + 1) / 2 * np.log(heavy).sum(axis=0) - len(shots) * np.log(scale)
    top = log_t.max(axis=1, keepdims=True)
    near, far = _blurred(np.exp(log_t - top), _kernels(len(look.fletched)))
    far, top = np.repeat(far, shifts, axis=0), np.repeat(top, shifts, axis=0)
    lost = setting("evidence.lost_group_chance")
    table = np.log((1 - lost) * near + lost * far) + top
    freedom = max(len(look.fletched) - 1, 0)
    squares = float(np.square(look.fletched[:, 0]).sum())
    own = -freedom * np.log(states.fletched_sd) - squares / (2 * states.fletched_sd**2)
    result: Array = table + own[:, None]
    return result


def _blurred(rows: Array, kernels: Sequence[Array]) -> list[Array]:
    """Rows carried through normal shifts; each kernel has one row or several for every row."""
    spectrum = np.fft.rfft(rows, _FFT_SIZE, axis=1)
    result = []
    for kernel in kernels:
        carried = np.repeat(spectrum, len(kernel) // len(rows), axis=0) * kernel
        blurred = np.fft.irfft(carried, _FFT_SIZE, axis=1)[:, : rows.shape[1]]
        result.append(np.maximum(blurred, 1e-15))
    return result


@functools.cache
def _kernels(fletched: int) -> tuple[Array, Array]:
    """How a group's centre shifts beside the true offset, as spectra: usual groups, and lost ones."""
    states = scatter_states()
    squares = np.square(2 * np.pi * np.fft.rfftfreq(_FFT_SIZE, Q_STEP))
    centre = states.fletched_sd**2 / max(fletched, 1)
    lost = centre[:: states.shape[1]] + setting("evidence.lost_group_sd_in") ** 2
    near, far = (
        np.exp(-0.5 * variance[:, None] * squares)
        for variance in (centre + states.shift_sd**2, lost)
    )
    return near, far


def _refined(coarse: Array) -> Array:
    """A table in half inches read every tenth, by parabolas through three neighbours."""
    states, count = coarse.shape
    three = np.stack([coarse[:, :-2], coarse[:, 1:-1], coarse[:, 2:]], axis=2)
    parts = round(Q_STEP / Q_FINE)
    edge = parts // 2 + 1
    fine = np.empty((states, parts * (count - 1) + 1))
    inner = three.reshape(-1, 3) @ _parabola(np.arange(-edge + 1, edge) / parts)
    fine[:, edge:-edge] = inner.reshape(states, -1)
    # the ends are read from their neighbours' parabolas
    outer = np.arange(edge) / parts - 1
    fine[:, :edge] = three[:, 0] @ _parabola(outer)
    fine[:, -edge:] = three[:, -1] @ _parabola(-outer[::-1])
    return fine


def _parabola(t: Array) -> Array:
    """Shares that three neighbours, a step apart, have in the values at t from the middle one (3, m)."""
    return np.stack([(t**2 - t) / 2, 1 - t**2, (t**2 + t) / 2])


def _word(low: float, high: float) -> Array:
    """Log-likelihood of a word over `Z`: an interval with soft edges and misreadings."""
    edge, wrong = setting("evidence.word_edge_lb"), setting("evidence.word_misread")
    inside = np.ones_like(Z)
    for end, beyond in ((low, Z - low), (high, high - Z)):
        if math.isfinite(end):
            inside *= normal.cdf(beyond / edge)
    return np.asarray(np.log(wrong + (1 - wrong) * inside))


def _sided(side: str, misread: str) -> Array:
    """Log-likelihood over `Z` of the side that tails or broadheads told; how often that is wrong."""
    edge, wrong = setting("evidence.nock_edge_lb"), setting(f"evidence.{misread}")
    if side == "straight":
        inside = normal.cdf((Z + 2 * edge) / edge) * normal.cdf((2 * edge - Z) / edge)
    else:
        inside = normal.cdf((Z if side == "stiff" else -Z) / edge)
    return np.asarray(np.log(wrong + (1 - 2 * wrong) * inside))
