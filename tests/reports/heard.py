"""Results of listening, as `diagnose listen --json` gives them, made by hand for the tests of pictures."""

from __future__ import annotations

import math
from typing import Any

from tests.reports.built import LIMPS


def evenly(
    count: int = 61, beat_s: float = 1.0, uneven_s: float = 0.05, missing: tuple[int, ...] = (), **more: Any
) -> dict[str, Any]:
    """Beats whose even intervals are longer than the odd ones by `uneven_s`; `missing` numbers are silent."""
    times = {number: 0.3 + number * beat_s + (uneven_s / 2 if number % 2 else 0.0) for number in range(count)}
    kept = [number for number in times if number not in missing]
    return {
        "beats": len(kept),
        "beats_per_hour": 3600.0 / beat_s,
        "beat_error_percent": 100.0 * uneven_s / (2 * beat_s),
        "uncertainty": {"beat_error_percent": 0.1},
        "longer": "even",
        "early_side": "unknown",
        "times_s": [times[number] for number in kept],
        "numbers": kept,
        "seconds": 0.3 + count * beat_s,
        "refused": None,
        **more,
    }


def tick(kind: str, height: float, peak_ms: float = 1.0, rivals_ms: tuple[float, ...] = ()) -> dict[str, Any]:
    """An averaged beat: a sharp rise at its drop, dying away."""
    level = []
    for place in range(192):
        after = -8.0 + 0.25 * (place + 0.5) - peak_ms
        level.append(round(height * math.exp(-max(after, 0.0) / 6.0) if after >= 0 else 0.0, 4))
    return {
        "kind": kind,
        "from_ms": -7.5,
        "step_ms": 0.25,
        "level": level,
        "instant_ms": 0.5,
        "rivals_ms": [0.5 + rival for rival in rivals_ms],
        "noise_level": 0.01,
    }


def wheel(teeth: int = 30, bad: int | None = 17, late_ms: float = 0.5) -> dict[str, Any]:
    """An escape wheel of which one tooth comes late."""
    deviations = [round(0.08 * math.sin(math.pi * place / teeth), 4) for place in range(2 * teeth)]
    if bad is not None:
        deviations[2 * (bad - 1)] = late_ms
    late = None if bad is None else late_ms
    return {"teeth": teeth, "deviations_ms": deviations, "sigma_ms": 0.03, "tooth": bad, "late_ms": late}


def everything() -> dict[str, Any]:
    """A result that gives all four pictures: side known, scatter, a rival, a silent beat, something louder."""
    whole = _everything()
    # Some scatter that is the same on every machine.
    whole["times_s"] = [
        round(time + 4e-4 * math.sin(2.4 * place**1.2), 6) for place, time in enumerate(whole["times_s"])
    ]
    return whole


def _everything() -> dict[str, Any]:
    return {
        **LIMPS,
        **evenly(
            uneven_s=0.256, missing=(20,), early_side="right", uncertainty={"beat_error_percent": 0.5},
            loud_s=[[40.0, 44.0]], rivals_percent=[1.3], rivals_turned=[True],
        ),
        "mean_ticks": [tick("even", 1.0), tick("odd", 0.5, rivals_ms=(14.0,))],
        "wheel": wheel(),
    }  # fmt: skip


def by_an_older_version() -> dict[str, Any]:
    """What was kept before a result carried what the newer pictures are drawn from."""
    newer = {"seconds", "loud_s", "mean_ticks", "rivals_turned", "wheel"}
    return {name: item for name, item in everything().items() if name not in newer}
