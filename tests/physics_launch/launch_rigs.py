"""Invented rigs for the launch's tests, in the archer's units."""

from __future__ import annotations

import numpy as np

from shaftwright.physics.launch.parts import LaunchArrow, LaunchBow, LaunchSettings
from shaftwright.physics.launch.settings import draw_settings, middle_settings
from shaftwright.units import FOOT_POUND_J, GRAIN_KG, INCH_M, POUND_FORCE_N


def arrow(
    spine_mils=400.0,
    length_in=29.25,
    front_gr=225.0,
    tail_gr=10.0,
    fletching_gr=15.0,
    gr_per_in=8.0,
    radius_in=0.15,
):
    # EI = 2.54618 / d28: centre-loaded simply supported beam, Roark's Formulas for Stress and Strain
    return LaunchArrow(
        length_m=np.asarray(length_in) * INCH_M,
        stiffness_n_m2=2.54618 / (np.asarray(spine_mils) / 1000),
        mass_per_length_kg_m=np.asarray(gr_per_in) * GRAIN_KG / INCH_M,
        front_kg=np.asarray(front_gr) * GRAIN_KG,
        tail_kg=np.asarray(tail_gr) * GRAIN_KG,
        fletching_kg=np.asarray(fletching_gr) * GRAIN_KG,
        radius_m=np.asarray(radius_in) * INCH_M,
    )


def bow(draw_lb=51.0, draw_in=28.25, brace_in=7.0, energy_ftlb_per_lb=0.95, offset_in=0.0):
    draw_lb = np.asarray(draw_lb)
    return LaunchBow(
        draw_force_n=draw_lb * POUND_FORCE_N,
        power_stroke_m=(np.asarray(draw_in) - 1.75 - brace_in) * INCH_M,
        stored_energy_j=energy_ftlb_per_lb * draw_lb * FOOT_POUND_J,
        virtual_mass_kg=240 * GRAIN_KG,
        brace_height_m=np.asarray(brace_in) * INCH_M,
        string_mass_kg=110 * GRAIN_KG,
        plate_offset_m=np.asarray(offset_in) * INCH_M,
        hysteresis=0.05,
    )


def middle(draw_lb=51.0, **given) -> LaunchSettings:
    return middle_settings(np.asarray(draw_lb) * POUND_FORCE_N, **given)


def many(count=200, seed=3):
    """Random plausible rigs with random settings."""
    rng = np.random.default_rng(seed)
    draw_lb, draw_in = rng.uniform(35, 65, count), rng.uniform(26, 29.5, count)
    a = arrow(
        spine_mils=20000 / draw_lb * rng.uniform(0.6, 1.6, count),
        length_in=np.maximum(draw_in + 0.5, rng.uniform(28, 31, count)),
        front_gr=rng.uniform(100, 300, count),
        tail_gr=rng.uniform(8, 15, count),
        fletching_gr=rng.uniform(0, 25, count),
        gr_per_in=rng.uniform(6, 11, count),
        radius_in=rng.uniform(0.12, 0.17, count),
    )
    b = bow(
        draw_lb, draw_in, rng.uniform(6.5, 8.5, count), offset_in=rng.uniform(-1 / 8, 1 / 8, count)
    )
    b = b.changed(
        stored_energy_j=rng.uniform(0.52, 0.64, count) * b.draw_force_n * b.power_stroke_m
    )
    return a, b, draw_settings(count, b.draw_force_n, seed=seed)


def contact_count(left):
    """How many contacts with the plate every launch had."""
    return np.isfinite(left.contacts_s[..., 0]).sum(axis=-1)
