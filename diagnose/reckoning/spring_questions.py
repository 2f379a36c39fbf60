"""Questions of what hangs: what a new suspension spring does, and when the weight is level with the bob."""

from __future__ import annotations

from diagnose.mechanics import suspension_spring, weight_fall
from diagnose.mechanics.measuring import TOOLS
from diagnose.mechanics.regulation import WRONG_PART_S_PER_DAY, length_change_mm
from diagnose.mechanics.spread import half_width_to_standard, spread
from diagnose.mechanics.suspension_spring import Leaf
from diagnose.model.reading import Knowledge
from diagnose.reckoning.answers import Answer, Figure, Line, Question, length_text, rate
from diagnose.reckoning.given import Field, Given, LeafGiven
from diagnose.reckoning.nut_questions import BEATS, PENDULUM, pendulum_length

FREE_TOOL = "plastic-caliper"
"""Width and free length are taken with it whatever the thickness is taken with."""
USUAL_SWING_DEG = 3.0
PERCENT = 100.0


def what_a_new_spring_does(given: Given, knowledge: Knowledge) -> Answer:
    """Say what another suspension spring does to the rate, and how much more or less it is strained."""
    leaves, mass_kg, mm = given.number("leaves"), given.number("mass"), pendulum_length(given)
    old, new = _leaves(given)
    half = half_width_to_standard(TOOLS[given.text("tool")].half_width_mm)
    side = half_width_to_standard(TOOLS[FREE_TOOL].half_width_mm)

    def change(*sizes: float) -> float:
        one, other = (Leaf(sizes[at], sizes[at + 1] * leaves, sizes[at + 2]) for at in (0, 3))
        return suspension_spring.rate_by_new_leaf(one, other, mass_kg, mm)

    sizes = [size for leaf in (old, new) for size in (leaf.thickness_mm, leaf.width_mm, leaf.free_mm)]
    unsure = [min(step, size / 2) for step, size in zip([half, side, side] * 2, sizes, strict=True)]
    # A size that was not given again is the same on both and has no part in the difference.
    given_new = given.leaf("new")
    for place, value in ((4, given_new.width_mm), (5, given_new.free_mm)):
        if value is None:
            unsure[place] = unsure[place - 3] = 0.0
    now, spread_now = change(*sizes), spread(change, sizes, unsure)
    figures: dict[str, Figure] = {
        "rate_s_per_day": now,
        "rate_unsure": spread_now,
        "pendulum_mm": mm,
        "beyond_the_nut": abs(now) >= WRONG_PART_S_PER_DAY,
    }
    fill = {
        "rate": rate(now, spread_now),
        "length": length_text(abs(length_change_mm(now, mm))),
        "way": Line("reckon-way-down" if now > 0 else "reckon-way-up"),
    }
    lines = [
        Line("reckon-spring-is", fill),
        Line("reckon-spring-far" if abs(now) >= WRONG_PART_S_PER_DAY else "reckon-spring-nut", fill),
        _strain(old, new, leaves, mass_kg, given.number("swing", USUAL_SWING_DEG), figures),
        Line("reckon-spring-limits"),
    ]
    return Answer(tuple(lines), figures, cautions=("leaf-cuts-and-creases",))


def _leaves(given: Given) -> tuple[Leaf, Leaf]:
    old = given.leaf("old")
    whole = _whole(old, old)
    return whole, _whole(given.leaf("new"), old)


def _whole(leaf: LeafGiven, other: LeafGiven) -> Leaf:
    """Return a leaf with what was not written taken from the other."""
    from diagnose.errors import UsageError

    width, free = leaf.width_mm or other.width_mm, leaf.free_mm or other.free_mm
    if width is None or free is None:
        raise UsageError("needs thickness, width and free length", "old", "Write all three: '0.10 x 10 x 25 mm'")
    return Leaf(leaf.thickness_mm, width, free)


def _strain(old: Leaf, new: Leaf, leaves: float, mass_kg: float, swing_deg: float, figures: dict[str, Figure]) -> Line:
    """Say the bending stress at the block before and now: thinner is not kinder."""
    before, now = (_stress(leaf, leaves, mass_kg, swing_deg) for leaf in (old, new))
    figures |= {"bending_before_mpa": before, "bending_now_mpa": now, "swing_deg": swing_deg}
    values = {
        "before": f"{before:.0f}",
        "now": f"{now:.0f}",
        "swing": f"{swing_deg:g}",
        "percent": f"{PERCENT * (now / before - 1):+.0f}",
    }
    return Line("reckon-spring-strained-more" if now > before else "reckon-spring-strained", values)


def _stress(leaf: Leaf, leaves: float, mass_kg: float, swing_deg: float) -> float:
    stiff = suspension_spring.stiff_length_mm(leaf.thickness_mm, leaf.width_mm * leaves, mass_kg)
    return suspension_spring.bending_stress_mpa(suspension_spring.bending_strain(leaf.thickness_mm, stiff, swing_deg))


def when_the_weight_is_level(given: Given, knowledge: Knowledge) -> Answer:
    """Say on which day after winding the weight hangs level with the bob."""
    hangs, mm = given.number("hangs"), pendulum_length(given)
    fall, run = given.number("fall"), given.number("days")
    early, level, late = weight_fall.days_until_level(hangs, mm, fall / run)
    meets = late > 0 and early < run
    figures: dict[str, Figure] = {
        "level_after_days": level,
        "near_from_days": early,
        "near_until_days": late,
        "fall_mm_per_day": fall / run,
        "meets": meets,
    }
    values = {
        "level": f"{level:.1f}",
        "from": f"{max(early, 0.0):.1f}",
        "until": f"{min(late, run):.1f}",
        "run": f"{run:g}",
    }
    said = Line("reckon-level-is" if meets else "reckon-level-never", values)
    lines = (said, Line("reckon-level-cure"), Line("reckon-level-limits")) if meets else (said,)
    return Answer(lines, figures)


QUESTIONS = (
    Question(
        "spring",
        "rate",
        (
            Field("old", "leaf", "'0.10 x 10 x 25 mm'", needed=True),
            Field("new", "leaf", "'0.15 mm'", needed=True),
            Field("mass", "number", "6 kg", needed=True, least=0.005, most=500),
            BEATS,
            PENDULUM,
            Field("leaves", "number", "1", least=1, most=4, usual="1", rare=True),
            Field("tool", "choice", "micrometer", choices=tuple(TOOLS), usual="micrometer", rare=True),
            Field("swing", "number", "3", least=0.2, most=30, rare=True),
        ),
        what_a_new_spring_does,
    ),
    Question(
        "level",
        "rate",
        (
            Field("hangs", "length", "'350 mm'", needed=True),
            Field("fall", "length", "'1400 mm'", needed=True),
            Field("days", "number", "8", least=0.1, most=400, usual="8"),
            BEATS,
            PENDULUM,
        ),
        when_the_weight_is_level,
    ),
)
