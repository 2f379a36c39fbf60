"""From answers and measurements to findings: likelihoods over the true value."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from diagnose.errors import InputError
from diagnose.model.near_names import near
from diagnose.model.observations import Answer, Certainty, Measurement, Source
from diagnose.reasoning.values import Finding
from diagnose.settings import DEFAULT, Parameters

if TYPE_CHECKING:
    from diagnose.model.entries import FindingEntry
    from diagnose.model.reading import Knowledge

# Different spellings of one unit; anything else must be spelled as the finding spells it.
_SAME_UNIT = {
    "percent": "%",
    "percent of the swing": "%",
    "% of the swing": "%",
    "s/d": "s/day",
    "seconds a day": "s/day",
}
_CLEARLY_IN_A_BAND = 0.75
"""A reading whose best band is less likely than this speaks for several values at once."""
_SOURCE_WORDS: dict[Source, str] = {
    "told": "told",
    "seen": "seen",
    "photo": "seen on a photo",
    "recording": "heard on a recording",
    "measured": "measured",
}


def chance_wrong(source: Source, certainty: Certainty, parameters: Parameters = DEFAULT) -> float:
    """Return the probability that an answer known in this way is wrong [1].

    A photo is judged by trained eyes but shows one side only: it errs as an owner does when sure, and as
    trained hands do otherwise.

    Parameters
    ----------
    source : str
        How it is known.
    certainty : str
        "sure" or "think-so".
    parameters : Parameters
        The numbers of the reasoning.
    """
    think_so = parameters.wrong_think_so_trained
    rates: dict[Source, tuple[float, float]] = {
        "told": (parameters.wrong_sure, parameters.wrong_think_so),
        "seen": (parameters.wrong_sure_trained, think_so),
        "photo": (parameters.wrong_sure, think_so),
        "recording": (parameters.wrong_read_off, think_so),
        "measured": (parameters.wrong_read_off, think_so),
    }
    sure, unsure = rates[source]
    return sure if certainty == "sure" else unsure


def said_likelihood(said: int, values: int, wrong: float) -> tuple[float, ...]:
    """Return P(answer | true value) for each true value; a wrong answer may be any other value.

    Parameters
    ----------
    said : int
        Position of the value that was said.
    values : int
        How many values the finding has.
    wrong : float
        Probability that the answer is wrong [1].
    """
    other = wrong / (values - 1)
    return tuple(1 - wrong if value == said else other for value in range(values))


def measured_likelihood(
    reading: float,
    uncertainty: float,
    bands: Sequence[tuple[float, float]],
    folded: bool = False,
    gross_error: float = DEFAULT.gross_error,
) -> tuple[float, ...]:
    """Return the likelihood of a reading for each band: the mean density over the band, and a gross error.

    Without the division by the width, wide bands would win. A reading far outside every band says
    nothing: all bands come out alike.

    Parameters
    ----------
    reading, uncertainty : float
        Value and its standard uncertainty, in the unit of the bands; signed where it has a sign.
    bands : sequence of (float, float)
        Both ends of each band.
    folded : bool
        The sign does not count: a band from 3 to 5 also means -5 to -3.
    gross_error : float
        Probability that something else was measured [1].
    """
    density = []
    for low, high in bands:
        mass = _between(low, high, reading, uncertainty)
        if folded:
            mass += _between(-high, -low, reading, uncertainty)
        density.append(mass / (high - low))
    total = sum(density)
    count = len(bands)
    if total <= 0:
        return (1 / count,) * count
    return tuple((1 - gross_error) * part / total + gross_error / count for part in density)


def _between(low: float, high: float, mean: float, deviation: float) -> float:
    """Return the normal probability of (low, high), exact in the far tails too."""
    scale = deviation * math.sqrt(2)
    from_mean, to_mean = (low - mean) / scale, (high - mean) / scale
    if from_mean > 0:
        return 0.5 * (math.erfc(from_mean) - math.erfc(to_mean))
    if to_mean < 0:
        return 0.5 * (math.erfc(-to_mean) - math.erfc(-from_mean))
    return 0.5 * (math.erf(to_mean) - math.erf(from_mean))


def heard_findings(noticed: Iterable[Mapping[str, Any]], knowledge: Knowledge) -> tuple[Finding, ...]:
    """Turn what was noticed in a recording into findings, one for each sign, in the order of their ids.

    Each thing noticed speaks for the values that name it in `heard`, as surely as it was heard; of several that speak
    of one sign the surest counts. What speaks for several values says none of them.

    Parameters
    ----------
    noticed : iterable of mapping
        Each with "kind" and "chance", as `diagnose listen --json` gives it.
    knowledge : Knowledge
        The findings they are about.
    """
    found: dict[str, Finding] = {}
    for one in noticed:
        for name, entry in knowledge.findings.items():
            heard = [one["kind"] in value.heard for value in entry.values.values()]
            if not any(heard):
                continue
            sure = min(float(one["chance"]), 1.0 - chance_wrong("recording", "sure"))
            if name not in found or sure > found[name].sure:
                found[name] = _heard(name, entry, heard, sure)
    return tuple(found[name] for name in sorted(found))


def _heard(name: str, entry: FindingEntry, heard: Sequence[bool], sure: float) -> Finding:
    """Return the finding of values that are as likely heard or not."""
    others = max(len(heard) - sum(heard), 1)
    likelihood = tuple(sure if yes else (1.0 - sure) / others for yes in heard)
    values = [value for value, yes in zip(entry.values, heard, strict=True) if yes]
    said = values[0] if len(values) == 1 else None
    words = " / ".join(entry.values[value].staff for value in values)
    return Finding(name, likelihood, said, sure, f"{_SOURCE_WORDS['recording']}: {words}", "recording")


def findings_from(
    answers: Iterable[Answer],
    measurements: Iterable[Measurement],
    knowledge: Knowledge,
    parameters: Parameters = DEFAULT,
) -> tuple[Finding, ...]:
    """Turn what was said and measured into findings, one for each sign, in the order of their ids.

    A later answer to a finding replaces the earlier one, and takes it back where it says "cannot tell"
    or "later". A measurement replaces what the ear said. A finding whose gate is answered and shut
    (`needs`) is left out: a dead clock has no evenness of tick.

    Parameters
    ----------
    answers, measurements : iterable
        In the order in which they were given.
    knowledge : Knowledge
        The findings they are about.
    parameters : Parameters
        The numbers of the reasoning.

    Raises
    ------
    InputError
        An id, value or unit that the knowledge does not have, or an uncertainty that is none.
    """
    found: dict[str, Finding | None] = {}
    for answer in answers:
        found[answer.finding] = _from_answer(answer, _entry(answer.finding, knowledge), parameters)
    for measurement in measurements:
        found.update(_from_measurement(measurement, knowledge, parameters))
    given = {name: item for name, item in found.items() if item is not None}
    return tuple(given[name] for name in sorted(given) if _gate_open(knowledge.findings[name], given))


def _entry(name: str, knowledge: Knowledge) -> FindingEntry:
    if name not in knowledge.findings:
        raise InputError(f"unknown finding '{name}'{near(name, knowledge.findings)}", do="Give the id of a finding")
    return knowledge.findings[name]


def _from_answer(answer: Answer, entry: FindingEntry, parameters: Parameters) -> Finding | None:
    """Return the finding an answer makes; None where it tells nothing."""
    if answer.state != "said":
        return None
    values = list(entry.values)
    if answer.value is None or answer.value not in entry.values:
        hint = near(answer.value or "", entry.values)
        raise InputError(
            f"unknown value '{answer.value}'{hint}", f"finding '{answer.finding}'", f"It has {', '.join(values)}"
        )
    wrong = chance_wrong(answer.source, answer.certainty, parameters)
    words = f'"{answer.said}"' if answer.said else entry.values[answer.value].staff
    doubt = ", not quite sure" if answer.certainty == "think-so" else ""
    return Finding(
        finding=answer.finding,
        likelihood=said_likelihood(values.index(answer.value), len(values), wrong),
        said=answer.value,
        sure=1 - wrong,
        because=f"{_SOURCE_WORDS[answer.source]}: {words}{doubt}",
        source=answer.source,
    )


def _from_measurement(
    measurement: Measurement, knowledge: Knowledge, parameters: Parameters
) -> dict[str, Finding | None]:
    """Return a finding for each sign that has bands of this quantity."""
    _check_numbers(measurement)
    about = {
        name: entry
        for name, entry in knowledge.findings.items()
        if entry.measured is not None and entry.measured.quantity == measurement.quantity
    }
    if not about:
        known = sorted({entry.measured.quantity for entry in knowledge.findings.values() if entry.measured})
        raise InputError(
            f"no finding has bands of '{measurement.quantity}'{near(measurement.quantity, known)}",
            do=f"Measured quantities are {', '.join(known) or 'none'}",
        )
    return {name: _in_bands(name, entry, measurement, parameters) for name, entry in about.items()}


def _check_numbers(measurement: Measurement) -> None:
    if not math.isfinite(measurement.value):
        raise InputError(f"the reading is {measurement.value}", measurement.quantity, "Give a number")
    if not (math.isfinite(measurement.uncertainty) and measurement.uncertainty > 0):
        raise InputError(
            f"the standard uncertainty is {measurement.uncertainty}", measurement.quantity, "It must be above 0"
        )


def _in_bands(name: str, entry: FindingEntry, measurement: Measurement, parameters: Parameters) -> Finding | None:
    """Return the finding of one reading; None where the reading lies outside every band."""
    if entry.measured is None:
        return None
    unit = entry.measured.unit
    if _SAME_UNIT.get(measurement.unit, measurement.unit) != _SAME_UNIT.get(unit, unit):
        raise InputError(f"the unit is '{measurement.unit}'", f"finding '{name}'", f"It is measured in {unit}")
    bands = [(value.band.from_, value.band.to) for value in entry.values.values() if value.band is not None]
    likelihood = measured_likelihood(
        measurement.value, measurement.uncertainty, bands, entry.measured.folded, parameters.gross_error
    )
    if max(likelihood) <= min(likelihood):
        return None
    best = max(range(len(likelihood)), key=likelihood.__getitem__)
    value = list(entry.values)[best]
    clear = likelihood[best] >= _CLEARLY_IN_A_BAND
    source: Source = "recording" if measurement.tool == "recording" else "measured"
    shown = f"{_rounded(measurement.value, measurement.uncertainty)} {unit}"
    return Finding(
        finding=name,
        likelihood=likelihood,
        said=value if clear else None,
        sure=likelihood[best],
        because=f"{_SOURCE_WORDS[source]}: {shown}, {'' if clear else 'most likely '}{entry.values[value].staff}",
        source=source,
    )


def _rounded(value: float, uncertainty: float) -> str:
    """Return a value with its uncertainty, to the place of the first digit of the uncertainty."""
    places = max(0, -math.floor(math.log10(uncertainty)))
    return f"{value:.{places}f} ± {uncertainty:.{places}f}"


def _gate_open(entry: FindingEntry, given: dict[str, Finding]) -> bool:
    """Tell whether nothing that was found rules out that this finding can be seen at all."""
    said = {name: given[name].said for name in entry.needs if name in given}
    return all(said.get(name) is None or said[name] in values for name, values in entry.needs.items())
