"""How soon a beat error can be told, live or from a voice note: `python -m tests.bench.hearing_live`.

Recordings of the grid are fed in blocks, as a microphone gives them, and the result is asked for now and then. The goal
is a first beat error within 10 s of sound, within 1 ms. Of a clock that beats seconds 10 s are five swings.
"""

from __future__ import annotations

import argparse
import time

import numpy as np

from diagnose.measurement.hearing.live import Listening
from tests.bench.hearing_scores import truth
from tests.bench.hearing_sounds import BANDS, FAMILIES, Cell, Sample, make_sample

ASKED_AT_S = (4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0)
SNRS_DB = (30, 20, 10)
SECONDS = 20.2
BLOCK_S = 0.25
GOAL_MS = 1.0
COUNT, FULL_COUNT = 2, 12


def errors_ms(sample: Sample) -> list[tuple[float, float, float]]:
    """Return error and standard uncertainty of the beat error, and seconds of computing, each time it is asked for."""
    true_ms = truth(sample)[0]
    listening = Listening(sample.rate_hz)
    size = round(BLOCK_S * sample.rate_hz)
    asked, found, spent = list(ASKED_AT_S), [], 0.0
    for start in range(0, len(sample.samples), size):
        begun = time.process_time()
        listening.feed(sample.samples[start : start + size])
        if asked and listening.seconds >= asked[0]:
            asked.pop(0)
            beats = listening.result()
            spent = time.process_time() - begun
            given = np.nan if beats.beat_error_ms is None else abs(abs(beats.beat_error_ms) - true_ms)
            found.append((given, beats.uncertainty["beat_error_ms"] or np.nan, spent))
    return found


def main(arguments: list[str] | None = None) -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--full", action="store_true", help=f"{FULL_COUNT} recordings of each kind")
    parser.add_argument("--count", type=int)
    options = parser.parse_args(arguments)
    count = options.count or (FULL_COUNT if options.full else COUNT)
    cells = [
        Cell(family, band, snr_db, "clean", number, SECONDS)
        for family in FAMILIES[:2]
        for band in BANDS
        for snr_db in SNRS_DB
        for number in range(count)
    ]
    samples = [make_sample(cell) for cell in cells]
    rows = np.array([errors_ms(sample) for sample in samples])
    print(f"beat error of live sound, {len(cells)} recordings at {SNRS_DB} dB")
    head = f"{'after':>7} {'given':>6} {'within 1 ms':>12} {'median ms':>10} {'95 % ms':>8}"
    print(f"{head} {'in 3 sigma':>11} {'s each':>7}")
    for place, asked_s in enumerate(ASKED_AT_S):
        error, sigma, spent = rows[:, place].T
        given = np.isfinite(error)
        if not given.any():
            print(f"{asked_s:>5.0f} s {0:>6}")
            continue
        inside = np.mean(error[given] < np.maximum(3 * sigma[given], 1e-9))
        print(
            f"{asked_s:>5.0f} s {100 * given.mean():>5.0f}% {100 * np.mean(error[given] < GOAL_MS):>11.0f}% "
            f"{np.median(error[given]):>10.3f} {np.quantile(error[given], 0.95):>8.2f} {100 * inside:>10.0f}% "
            f"{spent.mean():>7.2f}"
        )
    slow = [
        sample.key for sample, row in zip(samples, rows, strict=True) if not row[ASKED_AT_S.index(10.0), 0] < GOAL_MS
    ]
    print(f"not within {GOAL_MS:.0f} ms at 10 s: {len(slow)} of {len(cells)}: {' '.join(slow[:8])}")


if __name__ == "__main__":
    main()
