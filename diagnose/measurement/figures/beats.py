"""The result of listening: beat and rate of a clock, each with its standard uncertainty."""

from __future__ import annotations

from dataclasses import asdict, dataclass, field, fields, replace
from typing import Any, Literal

from diagnose.measurement.figures.named_results import Refusal
from diagnose.measurement.hearing.sides import EarlySide
from diagnose.measurement.noticing.noticed import Noticed
from diagnose.model.observations import Measurement

Quality = Literal["good", "fair", "poor", "none"]
MEASURED = ("beats_per_hour", "rate_s_per_day", "beat_error_ms", "beat_error_percent")


@dataclass(frozen=True, slots=True)
class MeanTick:
    """The averaged beat of one side: its loudness over time, around the instant of the drop.

    Parameters
    ----------
    kind : str
        "even" or "odd", as the beats are numbered.
    from_ms, step_ms : float
        Time of the first value, and from each to the next, on the clock of the averaged beat [ms].
    level : tuple of float
        Loudness, 1 for the loudest of both sides; each the loudest of its step.
    instant_ms : float
        Instant that counts as the drop of the tooth [ms].
    rivals_ms : tuple of float
        Instants of other impacts that might be it [ms].
    noise_level : float
        Loudness of the noise that is left in the average.
    """

    kind: Literal["even", "odd"]
    from_ms: float
    step_ms: float
    level: tuple[float, ...]
    instant_ms: float
    rivals_ms: tuple[float, ...] = ()
    noise_level: float = 0.0


@dataclass(frozen=True, slots=True)
class WheelTurn:
    """One turn of an escape wheel whose error comes back once a turn.

    Parameters
    ----------
    teeth : int
        Teeth of the wheel, the most likely count.
    deviations_ms : tuple of float
        How late each of the two beats of each tooth comes, counted from the first beat heard [ms].
    sigma_ms : float
        Standard uncertainty of one of them [ms].
    tooth : int, optional
        The tooth that stands out of the rest, counted from 1.
    late_ms : float, optional
        How late it ticks; early where negative [ms].
    """

    teeth: int
    deviations_ms: tuple[float, ...]
    sigma_ms: float
    tooth: int | None = None
    late_ms: float | None = None


@dataclass(frozen=True, slots=True)
class Beats:
    """Beat and rate of a clock. None where a figure cannot be given.

    The intervals between beats alternate, with means t1 and t2. The beat error is 100 |t1 - t2| / (t1 + t2) percent of
    the swing, or |t1 - t2| / 2 in ms. Where the side is known both are signed: + means that the right side comes early.

    Parameters
    ----------
    beats : int
        Number of beats the figures rest on.
    beats_per_hour : float, optional
        Beats per hour as heard [1/h].
    nominal_beats_per_hour : float, optional
        Beats per hour of the train [1/h].
    nominal_guessed : bool
        Whether the nominal is only the nearest common train.
    rate_s_per_day : float, optional
        Seconds gained (+) in a day against the nominal [s/day].
    beat_error_ms : float, optional
        Beat error [ms].
    beat_error_percent : float, optional
        Beat error in percent of the swing [%].
    longer : str, optional
        "even" or "odd": on which beats the longer intervals begin, counted from the first in `times_s` as 0.
    early_side : str
        Side whose tick comes too soon, as seen facing the dial: "left", "right" or "unknown".
    uncertainty : dict
        Standard uncertainty of each measured figure, under the same key, None where there is no figure.
    times_s : tuple of float
        Instants of the beats [s].
    numbers : tuple of int
        Number of each beat; a silent one leaves a gap.
    quality : str
        "good", "fair", "poor" or "none".
    warnings : tuple of str
        What a person should know about this measurement.
    refused : str, optional
        Name of the reason why there is no figure.
    reason : str, optional
        The same in one sentence.
    way_out : str, optional
        What to do to get a figure.
    rivals_percent : tuple of float
        Beat errors that would hold if another impact of the beat were the drop [%].
    terms : dict
        The parts of the uncertainty: "rate_timing" and "rate_sample_clock" [s/day], "beat_error_timing_ms" and
        "beat_error_instant_ms" [ms].
    tool : str
        "recording", "tapped" or "counted".
    rivals_turned : tuple of bool
        For each of `rivals_percent`, whether by that impact the other intervals are the longer ones.
    seconds : float
        Length of the recording, 0 where there is none [s].
    loud_s : tuple of pairs
        Starts and ends of stretches with something louder than the clock [s].
    mean_ticks : tuple of MeanTick
        The averaged beat of each side.
    noticed : tuple of Noticed
        What else the recording tells.
    wheel : WheelTurn, optional
        One turn of the escape wheel, where an error of it is heard.
    """

    beats: int = 0
    beats_per_hour: float | None = None
    nominal_beats_per_hour: float | None = None
    nominal_guessed: bool = False
    rate_s_per_day: float | None = None
    beat_error_ms: float | None = None
    beat_error_percent: float | None = None
    longer: Literal["even", "odd"] | None = None
    early_side: EarlySide = "unknown"
    uncertainty: dict[str, float | None] = field(default_factory=lambda: dict.fromkeys(MEASURED))
    times_s: tuple[float, ...] = ()
    numbers: tuple[int, ...] = ()
    quality: Quality = "none"
    warnings: tuple[str, ...] = ()
    refused: str | None = None
    reason: str | None = None
    way_out: str | None = None
    rivals_percent: tuple[float, ...] = ()
    terms: dict[str, float] = field(default_factory=dict)
    tool: str = "recording"
    rivals_turned: tuple[bool, ...] = ()
    seconds: float = 0.0
    loud_s: tuple[tuple[float, float], ...] = ()
    mean_ticks: tuple[MeanTick, ...] = ()
    noticed: tuple[Noticed, ...] = ()
    wheel: WheelTurn | None = None

    @property
    def split(self) -> str | None:
        """The two intervals as shares of the swing, the longer first, such as "52.0 : 48.0"."""
        if self.beat_error_percent is None:
            return None
        longer = 50.0 + abs(self.beat_error_percent) / 2.0
        return f"{longer:.1f} : {100.0 - longer:.1f}"

    def measurements(self, contact: str = "c1") -> tuple[Measurement, ...]:
        """Return the measured quantities that go into the reasoning.

        "beat-error" is in percent of the swing, + for right early, without a sign where the side is unknown. "rate" is
        left out where the nominal is only a guess: a rate against the wrong train would speak of a fault that is none.
        """
        found: list[Measurement] = []
        doubt = self.uncertainty.get("beat_error_percent")
        if self.beat_error_percent is not None and doubt is not None:
            found.append(Measurement("beat-error", self.beat_error_percent, doubt, "%", self.tool, contact))
        doubt = self.uncertainty.get("rate_s_per_day")
        if self.rate_s_per_day is not None and doubt is not None and not self.nominal_guessed:
            found.append(Measurement("rate", self.rate_s_per_day, doubt, "s/day", self.tool, contact))
        return tuple(found)

    def with_warnings(self, *warnings: str) -> Beats:
        """Return the same result with further warnings."""
        return replace(self, warnings=(*self.warnings, *warnings))


def refused(refusal: Refusal, warnings: tuple[str, ...] = (), tool: str = "recording") -> Beats:
    """Return the result that gives no figure, with its name, reason and way out."""
    return Beats(warnings=warnings, refused=refusal.name, reason=refusal.reason, way_out=refusal.way_out, tool=tool)


def to_dict(beats: Beats) -> dict[str, Any]:
    """Return a result as plain values for JSON, with the split as text beside them."""
    plain: dict[str, Any] = _listed(asdict(beats))
    plain["split"] = beats.split
    return plain


def from_dict(plain: dict[str, Any]) -> Beats:
    """Return the result that `to_dict` wrote; what is not of this edition is left out."""
    known = {one.name for one in fields(Beats)}
    given = {name: _tupled(value) for name, value in plain.items() if name in known}
    given["mean_ticks"] = tuple(
        MeanTick(**{name: _tupled(value) for name, value in tick.items()}) for tick in plain.get("mean_ticks", ())
    )
    given["noticed"] = tuple(Noticed(**one) for one in plain.get("noticed", ()))
    wheel = plain.get("wheel")
    given["wheel"] = None if not wheel else WheelTurn(**{name: _tupled(value) for name, value in wheel.items()})
    return Beats(**given)


def _tupled(value: Any) -> Any:
    """Return a value with a tuple for each list."""
    return tuple(_tupled(item) for item in value) if isinstance(value, list) else value


def _listed(value: Any) -> Any:
    """Return plain values with a list for each tuple, as JSON reads them back."""
    if isinstance(value, dict):
        return {name: _listed(item) for name, item in value.items()}
    return [_listed(item) for item in value] if isinstance(value, tuple | list) else value
