"""Checks of the simulated clock against a general ODE solver and against the arcsine formula."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from diagnose.errors import UsageError
from diagnose.mechanics import escapement as angles
from diagnose.mechanics.pendulum import circular_error
from diagnose.model.observations import ClockFacts
from diagnose.training.simulated_clock import SimulatedClock
from diagnose.training.ticking import LEFT, RIGHT
from diagnose.training.wheelwork import BadTooth, TurnError, Wheelwork


def clock(family="floor", escapement="recoil", **given):
    exact = {"jitter_s": 0.0, "walk_s": 0.0}
    return SimulatedClock(ClockFacts(family=family, escapement=escapement), **{**exact, **given})


def ticks_by_solver(simulated, count, start_deg):
    """Ticks of theta'' + theta'/Q + sin(theta) = push, switched at each drop, let go on the left."""
    drive, offset = simulated.escapement, math.radians(simulated.offset_deg)
    now, state, side, times = 0.0, [-math.radians(start_deg), 0.0], 1, []
    phases = ("push",) if drive.recoil else ("rest", "push")
    for _ in range(count):
        for phase in phases:
            rest = side * drive.push if phase == "push" else 0.0
            level = (
                side * (drive.drop - side * offset) if phase == "push" else side * (-drive.lift_from - side * offset)
            )

            def motion(t, y, rest=rest):
                return [y[1], rest - y[1] / drive.quality - math.sin(y[0])]

            def passes(t, y, level=level):
                return y[0] - level

            passes.terminal, passes.direction = True, side
            solved = solve_ivp(motion, (now, now + 7), state, events=passes, rtol=1e-11, atol=1e-13)
            now, state = solved.t_events[0][0], list(solved.y_events[0][0])
        times.append(now)
        side = -side
    return np.array(times) * simulated.unit_s


@pytest.mark.parametrize("escapement", ["recoil", "deadbeat"])
@pytest.mark.parametrize(("family", "offset"), [("floor", 0.3), ("wall", -0.7), ("mantel", 1.1)])
def test_ticks_are_those_of_a_general_solver(family, escapement, offset):
    simulated = clock(family, escapement, offset_deg=offset)
    start = simulated.swing + 0.2
    expected = ticks_by_solver(simulated, 24, start)
    ticking = simulated.run(expected[-1] + 0.1, released_from="left", start_swing_deg=start)
    got = ticking.times_s[:24]
    drift = np.abs((got - got[0]) - (expected - expected[0])).max()
    assert drift < 1e-5 * (expected[-1] - expected[0])  # one second a day


@pytest.mark.parametrize(
    ("swing", "drop", "three", "five"),
    [(2, 1, 0.082, 0.136), (2.5, 1, 0.108, 0.180), (3, 1.5, 0.122, 0.204), (4, 2, 0.163, 0.272), (5, 3, 0.189, 0.314)],
)
def test_offsets_of_the_table_give_three_and_five_percent(swing, drop, three, five):
    # table of offsets by swing and drop, derived; here through the motion of a light clock of Q = 300
    for offset, percent in ((three, 3), (five, 5)):
        simulated = clock(swing_deg=swing, drop_deg=drop, q=300, offset_deg=offset)
        assert simulated.beat_error_percent == pytest.approx(percent, abs=0.03)


@pytest.mark.parametrize("offset", [-1.4, -0.6, -0.1, 0.1, 0.6, 1.4])
@pytest.mark.parametrize("escapement", ["recoil", "deadbeat"])
def test_beat_error_is_that_of_the_arcsine_formula(offset, escapement):
    simulated = clock("floor", escapement, offset_deg=offset)
    expected = angles.beat_error_percent(offset, 3, 1.5)
    assert simulated.beat_error_percent == pytest.approx(expected, rel=6e-3)


def test_left_and_right_are_mirror_images():
    right, left = clock("mantel", offset_deg=0.8), clock("mantel", offset_deg=-0.8)
    assert right.beat_error_percent == pytest.approx(-left.beat_error_percent, rel=1e-4)


def test_first_tick_comes_on_the_side_opposite_to_the_release():
    assert clock().run(5, released_from="left").sides[:2].tolist() == [RIGHT, LEFT]
    assert clock().run(5, released_from="right").sides[:2].tolist() == [LEFT, RIGHT]


def test_longer_interval_has_the_bob_on_the_early_side():
    ticking = clock(offset_deg=0.4).run(60, released_from="left")
    gaps = np.diff(ticking.times_s)
    on_the_right = ticking.sides[:-1] == RIGHT
    assert gaps[on_the_right].mean() > gaps[~on_the_right].mean()
    assert ticking.beat_error_percent > 0


def test_swing_in_beat_is_the_one_that_was_asked_for():
    assert clock(swing_deg=2.7).steady_swing_deg == pytest.approx(2.7, abs=1e-4)


@pytest.mark.parametrize("rate", [-90.0, 0.0, 45.0])
def test_rate_in_beat_is_the_one_that_was_asked_for(rate):
    assert clock("mantel", rate_s_per_day=rate).run(600).rate_s_per_day == pytest.approx(rate, abs=1e-3)


def test_beats_are_those_of_the_train():
    ticking = clock(beats_per_hour=9000).run(400)
    assert ticking.times_s.size == pytest.approx(1000, abs=1)


def test_wider_swing_of_a_deadbeat_clock_loses_by_the_circular_error():
    simulated = clock("floor", "deadbeat", q=20_000)
    wide = simulated.run(20, released_from="left", start_swing_deg=6)
    expected = 86_400 * ((1 + circular_error(3)) / (1 + circular_error(6)) - 1)
    assert wide.rate_s_per_day == pytest.approx(expected, rel=0.03)


def test_recoil_clock_gains_with_more_power():
    # Beckett pp. 49, 77, 82-83: a recoil clock gains when its arc grows
    weak, strong = clock("wall", power=1.0).run(300), clock("wall", power=1.6).run(300)
    assert strong.swing_deg[-1] > weak.swing_deg[-1]
    assert strong.rate_s_per_day > weak.rate_s_per_day


def test_clock_stops_where_overswing_is_gone():
    reserve = angles.reserve_deg(0, 3, 1.5)
    assert clock(offset_deg=0.97 * reserve).runs
    assert not clock(offset_deg=1.03 * reserve).runs


def test_swing_without_power_dies_and_the_last_tick_is_told():
    ticking = clock(power=0.15, q=200).run(600, released_from="left", start_swing_deg=3)
    assert ticking.stopped_at_s == pytest.approx(ticking.times_s[-1])
    assert ticking.stopped_at_s < 600
    assert ticking.swing_deg[-1] < 1.6


def test_a_clock_that_rubs_swings_less_by_the_root_of_its_losses():
    # balance of energy of a recoil escapement: the work of a beat is the same at any swing
    assert clock(losses=2.0).steady_swing_deg == pytest.approx(3 / math.sqrt(2), rel=2e-3)
    assert not clock(losses=5.0).runs


def test_free_swing_halves_in_point_22_q_periods():
    # derived: halving time = 0.22 x Q x period (amplitude)
    ticking = clock(power=1e-9, q=400, drop_deg=1.0).run(300, released_from="left", start_swing_deg=3)
    halved = ticking.times_s[np.argmax(ticking.swing_deg < 1.5)]
    assert halved == pytest.approx(0.22 * 400 * 2.0, rel=0.02)


@pytest.mark.parametrize("adjuster", sorted(angles.TOWARD))
def test_moving_any_adjuster_as_told_evens_the_beat(adjuster):
    uneven = clock(offset_deg=0.5)
    side = angles.side_to_move(adjuster, "right")
    even = uneven.moved(adjuster, side, angles.size_mm(0.5, uneven.arm_mm(adjuster)))
    assert even.beat_error_percent == pytest.approx(0, abs=1e-6)


def test_hand_travel_gives_the_offset_back():
    right, left = clock(offset_deg=0.273).hand_travel_mm(1050)
    assert right < left
    assert angles.offset_from_hand_travel(right, left, 1050) == pytest.approx(0.273)


def test_same_seed_gives_the_same_ticks_and_another_seed_others():
    scattered = {"jitter_s": 3e-4, "walk_s": 3e-5}
    first, again = clock(seed=4, **scattered).run(30), clock(seed=4, **scattered).run(30)
    assert np.array_equal(first.times_s, again.times_s)
    assert not np.array_equal(first.times_s, clock(seed=5, **scattered).run(30).times_s)


def test_jitter_has_the_asked_for_spread():
    smooth = clock().run(3000, released_from="left")
    rough = clock(jitter_s=4e-4).run(3000, released_from="left")
    count = min(smooth.times_s.size, rough.times_s.size)
    assert np.std(rough.times_s[:count] - smooth.times_s[:count]) == pytest.approx(4e-4, rel=0.06)


def test_escape_wheel_error_comes_back_once_a_turn():
    wheel = clock(wheel_s=1e-3).run(600, released_from="left")
    smooth = clock().run(600, released_from="left")
    error = wheel.times_s - smooth.times_s
    assert np.allclose(error[:500], error[60:560], atol=1e-9)
    assert error.max() == pytest.approx(1e-3, rel=0.01)


def test_a_start_short_of_the_tick_is_refused():
    with pytest.raises(UsageError, match="short of the tick"):
        clock().run(10, released_from="left", start_swing_deg=1.0)


def test_a_swing_below_its_drop_is_refused():
    with pytest.raises(UsageError, match="wider than the drop"):
        clock(swing_deg=1.0, drop_deg=1.5)


def test_a_clock_whose_power_fails_swings_less_and_stops():
    dying = clock("mantel", q=60, power_lost_per_s=1 / 40).run(120)
    assert dying.stopped_at_s is not None
    assert 5 < dying.stopped_at_s < 100
    assert dying.swing_deg[-1] < 0.9 * dying.swing_deg[0]


def test_a_side_that_is_never_heard_is_told():
    ticking = clock(silent_side="left").run(20)
    assert np.array_equal(ticking.silent, ticking.sides == LEFT)


def test_silent_and_double_beats_are_told():
    ticking = clock(silent_share=0.2, doubled_share=0.3).run(600)
    assert ticking.silent.mean() == pytest.approx(0.2, abs=0.06)
    assert np.isfinite(ticking.doubled_s[ticking.heard]).mean() == pytest.approx(0.3, abs=0.06)
    assert not np.isfinite(ticking.doubled_s[ticking.silent]).any()


def test_errors_of_its_wheels_are_in_its_drops():
    wheels = Wheelwork(30, (TurnError(60, 1e-3), TurnError(450, 5e-4)), (BadTooth(7, 2e-3),))
    even, bent = clock(seed=3).run(300), clock(seed=3, wheels=wheels).run(300)
    assert np.array_equal(even.numbers, bent.numbers)
    assert bent.times_s - even.times_s == pytest.approx(wheels.lateness_s(bent.numbers), abs=1e-9)
    assert bent.wheels is wheels


def test_a_size_alone_gives_a_wave_once_a_turn():
    even, bent = clock(seed=3).run(300), clock(seed=3, wheel_s=1e-3).run(300)
    late = bent.times_s - even.times_s
    assert np.abs(late).max() == pytest.approx(1e-3, rel=0.01)
    assert late[:60] == pytest.approx(late[60:120], abs=1e-9)
