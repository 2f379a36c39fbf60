"""How true a phone counts time: found from a recording of something whose rate is known, and taken out of the rate."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from diagnose.errors import InputError
from diagnose.measurement.figures.fitting import fit_beats
from diagnose.measurement.hearing.ticks import Ticks, find_ticks
from diagnose.measurement.incoming.recording import Recording

SourceKind = Literal["quartz", "time-signal"]
SOURCES: tuple[SourceKind, ...] = get_args(SourceKind)
SOURCE_PPM: dict[SourceKind, float] = {"quartz": 6.0, "time-signal": 0.1}
"""How far such a source may itself be off, a standard uncertainty [ppm]: a quartz clock about 15 s in a month, which is
6 ppm (common practice, no source); a time signal sent over the air next to nothing."""
UNCALIBRATED_PPM = 50.0
"""Tolerance of the clock that counts the samples of a phone or sound card, taken as a standard uncertainty
(20 to 100 ppm are usual; from memory)."""
DRIFT_PPM = 2.0
"""How far such a clock moves with the warmth of the phone and in a year, a standard uncertainty (estimate)."""
LEAST_S = 30.0
"""A shorter recording of a known source says too little."""
_PPM = 1e-6
_MOST_PPM = 200.0
"""Further off than this is no phone, so the source is none of the kind that was named: perhaps a pendulum clock."""
_SECONDS_A_TICK = 1.0
_SECONDS_AN_HOUR = 3600.0
_LEAST_TICKS = 20
_LEAST_SHARE = 0.5
_STEADY_S, _EVEN_S = 5e-4, 1e-2
"""Ticks of a quartz clock come this steadily and this evenly, or something else was heard."""


@dataclass(frozen=True, slots=True)
class SampleClock:
    """The clock that counts the samples of one phone or sound card.

    Parameters
    ----------
    ppm : float
        By how much it counts too many: a true second is recorded as 1 + ppm / 10^6 seconds, so that a clock heard
        with it seems to lose [ppm].
    sigma_ppm : float
        Standard uncertainty of that [ppm].
    """

    ppm: float = 0.0
    sigma_ppm: float = UNCALIBRATED_PPM

    @property
    def factor(self) -> float:
        """By what recorded beats per hour are multiplied to be true."""
        return 1.0 + self.ppm * _PPM

    @property
    def share(self) -> float:
        """Standard uncertainty of a rate from this clock alone, as a share of the rate."""
        return self.sigma_ppm * _PPM


UNCALIBRATED = SampleClock()


@dataclass(frozen=True, slots=True)
class Calibration:
    """What a recording of a known source says of the phone that made it.

    Parameters
    ----------
    clock : SampleClock
        The clock that counts its samples.
    ticks : int
        Ticks it rests on.
    seconds : float
        Length of the recording [s].
    timing_ppm : float
        What the scatter of the ticks adds to the uncertainty [ppm].
    source_ppm : float
        What the source adds [ppm].
    """

    clock: SampleClock
    ticks: int
    seconds: float
    timing_ppm: float
    source_ppm: float

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values for JSON."""
        return {
            "ppm": self.clock.ppm,
            "sigma_ppm": self.clock.sigma_ppm,
            "ticks": self.ticks,
            "seconds": self.seconds,
            "timing_ppm": self.timing_ppm,
            "source_ppm": self.source_ppm,
            "drift_ppm": DRIFT_PPM,
        }


def calibrate(recording: Recording, source: SourceKind = "quartz") -> Calibration:
    """Return how true the clock of a phone is, from its recording of one tick or pip a second.

    Parameters
    ----------
    recording : Recording
        At least 30 s of a battery clock that ticks once a second, or of pips on the second; 2 minutes are better.
    source : str
        "quartz" or "time-signal".

    Raises
    ------
    InputError
        The recording is too short, or no even tick a second is heard in it.
    """
    if recording.seconds < LEAST_S:
        raise InputError(
            f"the recording is {recording.seconds:.0f} s long, too short to say how true the phone counts",
            recording.file,
            f"Record {LEAST_S:.0f} seconds at least; 2 minutes are better",
        )
    return calibration_of(find_ticks(recording), source, recording.file)


def calibration_of(ticks: Ticks, source: SourceKind = "quartz", file: str = "") -> Calibration:
    """Return the calibration by ticks that were heard; see `calibrate`.

    Parameters
    ----------
    ticks : Ticks
        One tick a second.
    source : str
        "quartz" or "time-signal".
    file : str
        Where they were heard, for what may have to be said.

    Raises
    ------
    InputError
        They are no even train of one tick a second.
    """
    one_kind = ticks.swing is not None and ticks.swing.audible < 2
    fit = None
    if ticks.refusal is None and len(ticks.times_s) >= _LEAST_TICKS:
        fit = fit_beats(ticks.times_s, ticks.numbers, ticks.sigmas_s, ticks.segments, one_kind)
    if fit is None or fit.kept.mean() < _LEAST_SHARE or fit.scatter_s > _STEADY_S or 2 * abs(fit.half_s) > _EVEN_S:
        raise InputError("no even tick a second is heard in this recording", file, _way_out(source))
    # Heard as one sound in each swing, a tick a second is taken for every second beat of a faster train.
    whole = max(round(_SECONDS_A_TICK / fit.period_s), 1)
    ppm = (fit.period_s * whole / _SECONDS_A_TICK - 1.0) / _PPM
    faster = bool(np.any(np.diff(ticks.numbers) % whole))
    if faster or abs(ppm) > _MOST_PPM:
        raise InputError(
            f"what is heard ticks {_SECONDS_AN_HOUR / fit.period_s:.0f} times an hour, not once a second",
            file,
            _way_out(source),
        )
    timing_ppm, source_ppm = fit.period_sigma_s / fit.period_s / _PPM, SOURCE_PPM[source]
    sigma_ppm = float(np.sqrt(timing_ppm**2 + source_ppm**2 + DRIFT_PPM**2))
    return Calibration(SampleClock(ppm, sigma_ppm), int(fit.kept.sum()), ticks.seconds, timing_ppm, source_ppm)


def _way_out(source: SourceKind) -> str:
    if source == "time-signal":
        return "Record at least 30 seconds of pips that come once a second"
    return "Hold the phone against a battery clock that ticks once a second, and record 2 minutes"
