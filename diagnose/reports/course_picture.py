"""How the intervals go over a recording: each kind in a band of its own, as far as it is from its mean."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import fmean, median
from typing import Any

from diagnose.model.wording import Wording
from diagnose.reports import pen
from diagnose.reports.pen import RIGHT, SMALL, TEXT
from diagnose.reports.sides_shown import side_of_kind

MS = 1e3
PLOT_LEFT = 40.0
FIRST_TOP, BAND, APART = 52.0, 72.0, 34.0
# An interval that differs so much from the usual one is no swing: the recording was cut, or a beat misheard.
JUMP_SHARE = 0.1
FEWEST = 4
# Up to so many intervals of a kind each is drawn by itself.
SINGLE_MOST = 42
NARROWEST_STEP, FEWEST_IN_STEP, STEPS_MOST = 5.0, 3, 45
STEP_LENGTHS_S = (2.0, 3.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0)
# The finest scale is 0.5 ms, so that the small scatter every clock has does not look like a fault.
SCALES_MS = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)
WILD, USUAL_SHARE = 5.0, 0.9
# Intervals farther from the usual one than this many standard deviations do not move the mean.
OUTLIER_SIGMAS, MAD_TO_SIGMA = 4.0, 1.4826
MEAN_REACH = 2
BAR_SHARE = 0.6
MINUTE_S, TIME_MARKS = 60.0, 6
LEAST_GAP = 1.5
TINY = 1e-6
TOLD_SHARE = 0.95


@dataclass(frozen=True, slots=True)
class Slot:
    """One swing's place for an interval of one kind; no value where one of its two beats is silent.

    Parameters
    ----------
    start_s, end_s : float
        From its first beat to the next beat of that side [s].
    off_ms : float, optional
        How far the interval is from the mean of its kind [ms].
    """

    start_s: float
    end_s: float
    off_ms: float | None


@dataclass(frozen=True, slots=True)
class Course:
    """The intervals of one kind.

    Parameters
    ----------
    kind : str
        "even" or "odd", by the beat they begin on.
    mean_s : float
        Their mean [s].
    slots : tuple of Slot
        In order of time, without holes.
    """

    kind: str
    mean_s: float
    slots: tuple[Slot, ...]


def courses_of(beats: Mapping[str, Any]) -> tuple[Course, ...]:
    """Return the intervals of both kinds; none where only one beat of each swing was heard, or too few.

    Parameters
    ----------
    beats : mapping
        As `diagnose listen --json` gives it.
    """
    times, numbers = beats.get("times_s") or (), beats.get("numbers") or ()
    if beats.get("refused") or len(times) != len(numbers) or len(times) < 2 * FEWEST:
        return ()
    at = dict(zip(numbers, times, strict=True))
    found = []
    for parity, kind in ((0, "even"), (1, "odd")):
        pairs = {number: at[number + 1] - at[number] for number in at if number % 2 == parity and number + 1 in at}
        usual = median(pairs.values()) if pairs else 0.0
        kept = {number: length for number, length in pairs.items() if abs(length - usual) < JUMP_SHARE * usual}
        if len(kept) < FEWEST:
            return ()
        mean_s = _mean_of_usual(list(kept.values()))
        every = range(min(numbers) + (min(numbers) + parity) % 2, max(numbers), 2)
        slots = [
            Slot(_time(number, numbers, times), _time(number + 2, numbers, times), _off(kept.get(number), mean_s))
            for number in every
        ]
        found.append(Course(kind, mean_s, tuple(slots)))
    return tuple(found)


def _mean_of_usual(lengths_s: Sequence[float]) -> float:
    """Return the mean of all but the wild ones [s]."""
    middle_s = median(lengths_s)
    sigma_s = MAD_TO_SIGMA * median(abs(length - middle_s) for length in lengths_s)
    return fmean(length for length in lengths_s if abs(length - middle_s) <= OUTLIER_SIGMAS * sigma_s)


def _off(length_s: float | None, mean_s: float) -> float | None:
    return None if length_s is None else MS * (length_s - mean_s)


def _time(number: int, numbers: Sequence[int], times: Sequence[float]) -> float:
    """Return when a beat came, or must have come by those beside it [s]."""
    place = min(max(bisect_left(numbers, number), 1), len(numbers) - 1)
    if numbers[place] == number:
        return times[place]
    step_s = (times[place] - times[place - 1]) / (numbers[place] - numbers[place - 1])
    return times[place - 1] + (number - numbers[place - 1]) * step_s


@dataclass(frozen=True, slots=True)
class Frame:
    """The scales of the picture: which times and which distances are drawn.

    Parameters
    ----------
    from_s, to_s : float
        Times at the left and right [s].
    scale_ms : float
        Distance from the mean at the edges of a band [ms].
    step_s : float
        Length of the stretches whose range is drawn; 0 where each interval is drawn by itself [s].
    """

    from_s: float
    to_s: float
    scale_ms: float
    step_s: float

    def x(self, time_s: float) -> float:
        """Return where a time stands; one outside stands at the edge [units]."""
        share = (time_s - self.from_s) / (self.to_s - self.from_s)
        return PLOT_LEFT + (RIGHT - PLOT_LEFT) * min(max(share, 0.0), 1.0)

    def y(self, off_ms: float, top: float) -> float:
        """Return the height of a distance from the mean; one beyond the scale stands at the edge [units]."""
        share = min(max(off_ms / self.scale_ms, -1.0), 1.0)
        return top + BAND / 2.0 * (1.0 - share)


def frame_of(courses: Sequence[Course], seconds: float) -> Frame:
    """Return the scales that suit some courses.

    Parameters
    ----------
    courses : sequence of Course
        At least one.
    seconds : float
        Length of the recording, 0 where there is none [s].
    """
    slots = [slot for course in courses for slot in course.slots]
    last_s = max(slot.end_s for slot in slots)
    from_s, to_s = (0.0, max(seconds, last_s)) if seconds > 0 else (min(slot.start_s for slot in slots), last_s)
    sizes = sorted(abs(slot.off_ms) for slot in slots if slot.off_ms is not None)
    usual = sizes[int(USUAL_SHARE * (len(sizes) - 1))]
    # A few wild intervals must not flatten all others; they are marked at the edge.
    largest = min(sizes[-1], WILD * max(usual, SCALES_MS[0]))
    scale_ms = next((scale for scale in SCALES_MS if scale >= largest * (1.0 - TINY)), SCALES_MS[-1])
    swing_s = courses[0].mean_s + courses[-1].mean_s
    if max(len(course.slots) for course in courses) <= SINGLE_MOST:
        return Frame(from_s, to_s, scale_ms, 0.0)
    least_s = max(FEWEST_IN_STEP * swing_s, (to_s - from_s) / STEPS_MOST)
    step_s = next((length for length in STEP_LENGTHS_S if length >= least_s), least_s)
    return Frame(from_s, to_s, scale_ms, step_s)


def course_picture(beats: Mapping[str, Any], wording: Wording, name: str = "course") -> str | None:
    """Draw the intervals of both kinds over a recording, or return None where there are too few.

    Parameters
    ----------
    beats : mapping
        As `diagnose listen --json` gives it.
    wording : Wording
        Speaks to staff.
    name : str
        Keeps its ids apart from those of other pictures on a page.
    """
    courses = courses_of(beats)
    if not courses:
        return None
    frame = frame_of(courses, beats.get("seconds") or 0.0)
    loud = [(start, end) for start, end in beats.get("loud_s") or () if end > frame.from_s and start < frame.to_s]
    parts: list[str] = []
    for place, course in enumerate(courses):
        top = FIRST_TOP + place * (BAND + APART)
        sides = {
            "start": wording.say(f"picture-side-{side_of_kind(beats, course.kind)}"),
            "end": wording.say(f"picture-side-{side_of_kind(beats, 'odd' if course.kind == 'even' else 'even')}"),
        }
        heading = wording.say("picture-course-band", mean=f"{course.mean_s:.3f}", **sides)
        parts.append(pen.text(pen.LEFT, top - 10, TEXT, heading, weight="bold"))
        parts += _band(course, frame, loud, top)
    bottom = FIRST_TOP + len(courses) * (BAND + APART) - APART
    parts += _time_marks(frame, bottom, wording)
    small, height = pen.notes(bottom + 48.0, _notes(courses, frame, loud, wording))
    spoken = _spoken(courses, frame, wording)
    return pen.framed(name, wording.say("picture-course-title"), spoken, height, [*parts, *small])


def _band(course: Course, frame: Frame, loud: Sequence[tuple[float, float]], top: float) -> list[str]:
    """Return one band: what was louder, the scale, the intervals, the line of the mean and the running mean."""
    parts = [pen.hatched(frame.x(start), top, frame.x(end) - frame.x(start), BAND, "louder") for start, end in loud]
    for share in (1.0, 0.0, -1.0):
        y = top + BAND / 2.0 * (1.0 - share)
        parts.append(pen.line(PLOT_LEFT - 4, y, PLOT_LEFT, y, pen.THIN))
        words = f"{share * frame.scale_ms:+g}" if share else "0"
        parts.append(pen.text(PLOT_LEFT - 7, y + 4, SMALL, words.replace("-", "−"), anchor="end"))
    parts += [pen.line(PLOT_LEFT, y, RIGHT, y, pen.THIN, pen.PALE) for y in (top, top + BAND)]
    parts += _bars(course, frame, top) if frame.step_s == 0.0 else _ranges(course, frame, top)
    for run in runs_of(course.slots):
        start, end = frame.x(run[0].start_s), frame.x(run[-1].end_s)
        parts.append(pen.line(start, frame.y(0.0, top), max(end - LEAST_GAP, start), frame.y(0.0, top), pen.THIN))
    for piece in running_means(course, frame):
        if len(piece) > 1:
            parts.append(pen.path([(frame.x(time_s), frame.y(mean, top)) for time_s, mean in piece], pen.THICK))
    return [*parts, *_beyond(course, frame, top)]


def runs_of(slots: Sequence[Slot]) -> list[list[Slot]]:
    """Return the slots that have a value, in unbroken runs."""
    runs: list[list[Slot]] = [[]]
    for slot in slots:
        if slot.off_ms is not None:
            runs[-1].append(slot)
        elif runs[-1]:
            runs.append([])
    return [run for run in runs if run]


def _bars(course: Course, frame: Frame, top: float) -> list[str]:
    """Return each interval as a bar from the line of the mean to its distance from it."""
    parts = []
    for slot in course.slots:
        if slot.off_ms is None:
            continue
        wide = (frame.x(slot.end_s) - frame.x(slot.start_s)) * BAR_SHARE
        left = (frame.x(slot.end_s) + frame.x(slot.start_s) - wide) / 2.0
        upper, lower = sorted((frame.y(slot.off_ms, top), frame.y(0.0, top)))
        parts.append(pen.box(left, upper, wide, lower - upper, pen.SHADE, pen.TINT, "interval"))
    return parts


def stretches_of(slots: Sequence[Slot], frame: Frame) -> dict[int, list[Slot]]:
    """Return the slots that have a value, by the step of the time scale in which they begin."""
    found: dict[int, list[Slot]] = {}
    for slot in slots:
        if slot.off_ms is not None:
            found.setdefault(int((slot.start_s - frame.from_s) / frame.step_s), []).append(slot)
    return found


def _ranges(course: Course, frame: Frame, top: float) -> list[str]:
    """Return the range of the intervals in each stretch, open where a beat is silent."""
    parts = []
    for stretch in stretches_of(course.slots, frame).values():
        offs = _offs(stretch)
        upper, lower = frame.y(max(offs), top), frame.y(min(offs), top)
        first_s, last_s = stretch[0].start_s, stretch[-1].start_s
        for run in runs_of([slot for slot in course.slots if first_s <= slot.start_s <= last_s]):
            left, right = frame.x(run[0].start_s), frame.x(run[-1].end_s)
            parts.append(pen.box(left, upper, right - left, max(lower - upper, 1.0), pen.SHADE, name="range"))
            parts += [pen.line(left, y, right, y, pen.THIN, pen.TINT) for y in (upper, max(lower, upper + 1.0))]
    return parts


def _offs(slots: Sequence[Slot]) -> list[float]:
    return [slot.off_ms for slot in slots if slot.off_ms is not None]


def running_means(course: Course, frame: Frame) -> list[list[tuple[float, float]]]:
    """Return the running mean in unbroken pieces: times [s] and means [ms].

    Where each interval is drawn by itself it is the mean of five, broken by each silent beat; else that of each
    stretch, broken by each stretch without an interval.
    """
    if frame.step_s == 0.0:
        return [
            [_mean_of(run[max(0, place - MEAN_REACH) : place + MEAN_REACH + 1]) for place in range(len(run))]
            for run in runs_of(course.slots)
        ]
    pieces: list[list[tuple[float, float]]] = []
    before = None
    for number, stretch in stretches_of(course.slots, frame).items():
        if before is None or number > before + 1:
            pieces.append([])
        pieces[-1].append(_mean_of(stretch))
        before = number
    return pieces


def _mean_of(slots: Sequence[Slot]) -> tuple[float, float]:
    return (slots[0].start_s + slots[-1].end_s) / 2.0, fmean(_offs(slots))


def _beyond(course: Course, frame: Frame, top: float) -> list[str]:
    """Return a small mark at the edge for each interval beyond the scale."""
    parts = []
    for slot in course.slots:
        if slot.off_ms is not None and abs(slot.off_ms) > frame.scale_ms:
            x, way = frame.x((slot.start_s + slot.end_s) / 2.0), 1.0 if slot.off_ms > 0 else -1.0
            tip = top if way > 0 else top + BAND
            points = [(x, tip), (x - 4, tip + way * 7), (x + 4, tip + way * 7)]
            parts.append(pen.path(points, pen.THIN, pen.INK, pen.INK))
    return parts


def _time_marks(frame: Frame, bottom: float, wording: Wording) -> list[str]:
    """Return the scale of time under the bands."""
    minutes = frame.to_s - frame.from_s > 3.0 * MINUTE_S
    unit = MINUTE_S if minutes else 1.0
    parts = []
    for mark in pen.even_steps(frame.from_s / unit, frame.to_s / unit, TIME_MARKS):
        x = frame.x(mark * unit)
        parts.append(pen.line(x, bottom, x, bottom + 4, pen.THIN))
        parts.append(pen.label(x, bottom + 16, SMALL, f"{mark:g}"))
    words = wording.say("picture-course-minutes" if minutes else "picture-course-seconds")
    parts.append(pen.text((PLOT_LEFT + RIGHT) / 2.0, bottom + 31, SMALL, words, anchor="middle"))
    return parts


def _notes(courses: Sequence[Course], frame: Frame, loud: Sequence[tuple[float, float]], wording: Wording) -> list[str]:
    """Return the small print: what each mark means, of those that are there."""
    drawn = "picture-course-each" if frame.step_s == 0.0 else "picture-course-range"
    found = [wording.say(drawn, seconds=f"{frame.step_s:g}", scale=f"{frame.scale_ms:g}")]
    slots = [slot for course in courses for slot in course.slots]
    if any(slot.off_ms is None for slot in slots):
        found.append(wording.say("picture-course-silent"))
    if loud:
        found.append(wording.say("picture-course-louder"))
    beyond = sum(slot.off_ms is not None and abs(slot.off_ms) > frame.scale_ms for slot in slots)
    if beyond:
        found.append(wording.say("picture-course-beyond", count=beyond))
    return found


def _spoken(courses: Sequence[Course], frame: Frame, wording: Wording) -> str:
    """Return the picture in words."""
    slots = [slot for course in courses for slot in course.slots]
    within = sorted(abs(slot.off_ms) for slot in slots if slot.off_ms is not None)
    return wording.say(
        "picture-course-spoken",
        seconds=f"{frame.to_s - frame.from_s:.0f}",
        within=f"{within[int(TOLD_SHARE * (len(within) - 1))]:.2g}",
        silent=sum(slot.off_ms is None for slot in slots),
    )
