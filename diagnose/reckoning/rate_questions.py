"""Questions of what changes the rate: warmth, another place, the width of the swing, the air."""

from __future__ import annotations

from diagnose.mechanics import air, pendulum
from diagnose.model.reading import Knowledge
from diagnose.reckoning.answers import Answer, Figure, Line, Question, degrees_text, rate, seconds_text
from diagnose.reckoning.given import Field, Given


def what_warmth_does(given: Given, knowledge: Knowledge) -> Answer:
    """Say what a warmer or colder room does, by the material of the rod."""
    warmer, rod = given.number("warmer"), given.text("rod")
    rates = {
        name: pendulum.rate_by_temperature(expansion, warmer) for name, expansion in pendulum.EXPANSION_PER_C.items()
    }
    values = {
        "rod": Line(f"reckon-choice-{rod}"),
        "degrees": f"{abs(warmer):.1f}",
        "warmer": Line("reckon-warmer" if warmer > 0 else "reckon-colder"),
        "rate": rate(rates[rod]),
    }
    others = {name: seconds_text(rates[name]) for name in ("steel", "brass", "wood", "invar")}
    figures: dict[str, Figure] = {f"{name}_s_per_day": value for name, value in rates.items()}
    figures |= {"rod": rod, "warmer_c": warmer, "rate_s_per_day": rates[rod]}
    lines = (Line("reckon-warmth-is", values), Line("reckon-warmth-others", others), Line("reckon-warmth-limits"))
    return Answer(lines, figures)


def what_the_place_does(given: Given, knowledge: Knowledge) -> Answer:
    """Say what gravity at another latitude and height does to the rate."""
    here, there = given.number("latitude"), given.number("to-latitude", given.number("latitude"))
    low, high = given.number("height"), given.number("to-height", given.number("height"))
    in_air, on_rock = (
        pendulum.rate_by_gravity(
            pendulum.gravity_at(there, high, on_a_plateau=wide), pendulum.gravity_at(here, low, on_a_plateau=wide)
        )
        for wide in (False, True)
    )
    lines = [Line("reckon-place-is", {"rate": rate(in_air)})]
    if high != low:
        lines.append(Line("reckon-place-plateau", {"rate": rate(on_rock)}))
    lines.append(Line("reckon-place-limits"))
    figures: dict[str, Figure] = {
        "rate_s_per_day": in_air,
        "rate_on_a_plateau_s_per_day": on_rock,
        "gravity_before_m_per_s2": pendulum.gravity_at(here, low),
        "gravity_after_m_per_s2": pendulum.gravity_at(there, high),
    }
    return Answer(tuple(lines), figures)


def what_the_swing_does(given: Given, knowledge: Knowledge) -> Answer:
    """Say what circular error alone does when the swing changes."""
    before, now = given.number("before"), given.number("now")
    change = pendulum.rate_by_swing(before, now)
    values = {"before": degrees_text(before), "now": degrees_text(now), "rate": rate(change)}
    losses = {
        "before": degrees_text(before),
        "loss": seconds_text(pendulum.circular_loss(before)),
        "rule": seconds_text(pendulum.circular_loss_by_rule(before)),
    }
    figures: dict[str, Figure] = {
        "rate_s_per_day": change,
        "loss_before_s_per_day": pendulum.circular_loss(before),
        "loss_now_s_per_day": pendulum.circular_loss(now),
        "loss_before_by_rule_s_per_day": pendulum.circular_loss_by_rule(before),
    }
    lines = (Line("reckon-swing-is", values), Line("reckon-swing-whole", losses), Line("reckon-swing-limits"))
    return Answer(lines, figures)


def what_the_air_does(given: Given, knowledge: Knowledge) -> Answer:
    """Say what a change of the barometer does, as an order of size."""
    rise = given.number("rise")
    least, most = sorted(abs(loss) for loss in air.loss_by_barometer(rise))
    values = {"least": seconds_text(least), "most": seconds_text(most), "rise": f"{abs(rise):.0f}"}
    figures: dict[str, Figure] = {"rise_hpa": rise, "least_s_per_day": least, "most_s_per_day": most}
    said = Line("reckon-air-loses" if rise > 0 else "reckon-air-gains", values)
    return Answer((said, Line("reckon-air-limits")), figures)


QUESTIONS = (
    Question(
        "warmth",
        "rate",
        (
            Field("warmer", "warmth", "'10 C'", needed=True, least=-80, most=80),
            Field("rod", "choice", "steel", choices=tuple(pendulum.EXPANSION_PER_C), usual="steel"),
        ),
        what_warmth_does,
        for_customers=True,
    ),
    Question(
        "place",
        "rate",
        (
            Field("latitude", "number", "52.5", needed=True, least=-90, most=90),
            Field("height", "height", "'30 m'", least=-500, most=6000, usual="0 m"),
            Field("to-latitude", "number", "48.1", least=-90, most=90),
            Field("to-height", "height", "'520 m'", least=-500, most=6000),
        ),
        what_the_place_does,
        for_customers=True,
    ),
    Question(
        "swing",
        "rate",
        (
            Field("before", "number", "2", needed=True, least=0.1, most=30),
            Field("now", "number", "2.5", needed=True, least=0.1, most=30),
        ),
        what_the_swing_does,
    ),
    Question(
        "air", "rate", (Field("rise", "pressure", "'20 hPa'", needed=True, least=-150, most=150),), what_the_air_does
    ),
)
