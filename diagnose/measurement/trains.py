"""Common trains: beats per hour a pendulum clock is likely to have been made for.

Common practice, no source: whole numbers of beats a minute, and what common wheel counts give.
"""

from __future__ import annotations

COMMON_TRAINS = (
    3600.0,
    4320.0,
    4800.0,
    5040.0,
    5400.0,
    5760.0,
    6000.0,
    6480.0,
    7200.0,
    7560.0,
    8000.0,
    8400.0,
    9000.0,
    9600.0,
    10080.0,
    10800.0,
)
NEAR_SHARE = 0.02
"""Farther than this from every common train (half an hour a day) none is proposed."""


def nearest_train(beats_per_hour: float) -> float | None:
    """Return the nearest common train, or None where none is within 2 percent [1/h]."""
    nearest = min(COMMON_TRAINS, key=lambda train: abs(train / beats_per_hour - 1.0))
    return nearest if abs(nearest / beats_per_hour - 1.0) <= NEAR_SHARE else None
