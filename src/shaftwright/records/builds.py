"""Builds as columns: many arrows at once, one array a quantity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shaftwright.arrays import Array, Bools
from shaftwright.resources import usual

Ints = NDArray[np.int32]


@dataclass(frozen=True)
class Builds:
    """Arrows as arrays of one length n; names are kept beside as indices.

    Attributes
    ----------
    shaft, head, insert, collar : int array (n,)
        Indices into `names`; -1 where there is none.
    spine_mils, spine_sd_pct : array (n,)
        Static spine [mils] and its own doubt, one standard deviation [%].
    length_in, gr_per_in, radius_in, rear_taper_in : array (n,)
        Shaft length [in], mass per inch [gr/in], radius [in], length of a rear taper [in].
    wood : array (n,)
        1 for a shaft of wood, else 0.
    head_gr, insert_gr, collar_gr : array (n,)
        Point or broadhead, insert or outsert, collar [gr].
    stiffening_gr : array (n,)
        Of the front, what lies round the shaft and stiffens it: collar and outsert [gr].
    tail_gr, fletching_gr : array (n,)
        Everything at the tail, and of it fletching and wrap, absent on a bare shaft [gr].
    is_broadhead : bool array (n,)
        Whether the head is a broadhead.
    price : array (n,)
        Price of one arrow's parts, owned pieces free; NaN where unknown.
    owned : array (n,)
        Share of shaft, head and insert already in hand, 0 to 1.
    names : tuple of str
        Item names that the indices point to.
    """

    shaft: Ints
    head: Ints
    insert: Ints
    collar: Ints
    spine_mils: Array
    spine_sd_pct: Array
    length_in: Array
    gr_per_in: Array
    radius_in: Array
    rear_taper_in: Array
    wood: Array
    head_gr: Array
    insert_gr: Array
    collar_gr: Array
    stiffening_gr: Array
    tail_gr: Array
    fletching_gr: Array
    is_broadhead: Bools
    price: Array
    owned: Array
    names: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.length_in)

    @cached_property
    def front_gr(self) -> Array:
        """Everything at the front [gr]."""
        return self.head_gr + self.insert_gr + self.collar_gr

    @cached_property
    def total_gr(self) -> Array:
        """Mass of the whole arrow, fletched [gr]."""
        return self.gr_per_in * self.length_in + self.front_gr + self.tail_gr

    @cached_property
    def bare_gr(self) -> Array:
        """Mass of the bare arrow, without fletching and wrap [gr]."""
        return self.total_gr - self.fletching_gr

    def take(self, index: Any) -> Builds:
        """The builds at an index, mask or slice, in that order."""
        columns: dict[str, Any] = {
            f.name: getattr(self, f.name)[index] for f in fields(self) if f.name != "names"
        }
        return Builds(names=self.names, **columns)

    def name(self, index: int) -> str:
        """The item name behind an index of `shaft`, `head`, `insert` or `collar`; empty for none."""
        return self.names[index] if index >= 0 else ""


def builds_by_numbers(
    spine_mils: Any, length_in: Any, front_gr: Any, tail_gr: Any = None, gr_per_in: Any = None,
    radius_in: Any = None, spine_sd_pct: Any = 0.0, wood: bool = False,
) -> Builds:  # fmt: skip
    """Builds from bare numbers, broadcast together; all front mass counts as the point.

    Parameters
    ----------
    spine_mils, length_in, front_gr, tail_gr, gr_per_in, radius_in, spine_sd_pct : float or array
        Broadcast to one length n. Spine, tail, mass per inch and radius may be None: then they are
        the reference shaft's of tables/rig_usual.csv.
    wood : bool
        Whether the shafts are of wood.

    Returns
    -------
    Builds
        n builds without names or prices; what of the tail a bare shaft does not keep is fletching.
    """
    given = [
        usual("spine_mils", "reference") if spine_mils is None else spine_mils, length_in, front_gr,
        usual("tail_gr") if tail_gr is None else tail_gr,
        usual("gr_per_in", "reference") if gr_per_in is None else gr_per_in,
        usual("shaft_radius_in", "reference") if radius_in is None else radius_in, spine_sd_pct,
    ]  # fmt: skip
    arrays = [np.atleast_1d(np.asarray(v, dtype=float)) for v in given]
    spine, length, front, tail, per_inch, radius, doubt = (
        np.array(a, dtype=float) for a in np.broadcast_arrays(*arrays)
    )
    none = np.full(len(spine), -1, dtype=np.int32)
    zero = np.zeros(len(spine))
    return Builds(
        shaft=none, head=none, insert=none, collar=none, spine_mils=spine, spine_sd_pct=doubt,
        length_in=length, gr_per_in=per_inch, radius_in=radius, rear_taper_in=zero,
        wood=zero + wood, head_gr=front,
        insert_gr=zero, collar_gr=zero, stiffening_gr=zero, tail_gr=tail,
        fletching_gr=np.maximum(tail - usual("bare_tail_gr"), 0.0),
        is_broadhead=zero.astype(bool), price=np.full(len(spine), np.nan), owned=zero,
    )  # fmt: skip


def bare_of(build: Builds, taped: bool) -> Builds:
    """A build as it is shot bare: without fletching and wrap, unless their mass is taped on.

    Parameters
    ----------
    build : Builds
        n fletched builds.
    taped : bool
        Whether the mass is taped on.

    Returns
    -------
    Builds
        The same builds with the tail mass they are shot with.
    """
    if taped:
        return build
    return replace(build, tail_gr=build.tail_gr - build.fletching_gr,
                   fletching_gr=np.zeros(len(build)))  # fmt: skip


def stacked(builds: Sequence[Builds]) -> Builds:
    """Several builds as one set of columns, without their names.

    Parameters
    ----------
    builds : sequence of Builds
        Any lengths.

    Returns
    -------
    Builds
        All of them, in order.
    """
    columns = {
        name: np.concatenate([getattr(b, name) for b in builds])
        for name in Builds.__dataclass_fields__
        if name != "names"
    }
    return Builds(names=(), **columns)
