"""Checks of beat error, sizes and directions; directions against the geometry of the whole clock."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from diagnose.errors import UsageError
from diagnose.mechanics import escapement


def test_beat_error_of_a_regulator():
    # derived; A = 2, gamma = 1 are Beckett's recommended figures (p. 90)
    assert escapement.beat_error_percent(0.1, 2, 1) == pytest.approx(3.680, abs=0.001)
    assert escapement.beat_error_percent_linear(0.1, 2, 1) == pytest.approx(3.676, abs=0.001)


@pytest.mark.parametrize(
    ("percent", "swing", "drop", "exact", "linear"), [(10, 3, 1.5, 0.405, 0.408), (20, 5, 3, 1.199, 1.257)]
)
def test_offset_of_a_large_beat_error(percent, swing, drop, exact, linear):
    # derived: linear and exact form part by 1 % at 10 % and by 3-5 % at 20 %
    assert escapement.offset_deg(percent, swing, drop) == pytest.approx(exact, abs=0.001)
    assert escapement.offset_deg_linear(percent, swing, drop) == pytest.approx(linear, abs=0.001)


@pytest.mark.parametrize(
    ("swing", "drop", "three", "five", "stops"),
    [(2, 1, 0.082, 0.136, 1.0), (2.5, 1, 0.108, 0.180, 1.5), (3, 1.5, 0.122, 0.204, 1.5), (4, 2, 0.163, 0.272, 2.0),
     (5, 3, 0.189, 0.314, 2.0)],
)  # fmt: skip
def test_table_of_offsets_by_swing_and_drop(swing, drop, three, five, stops):
    # derived, linear form; common practice for 3 and 5 %
    assert escapement.offset_deg_linear(3, swing, drop) == pytest.approx(three, abs=6e-4)
    assert escapement.offset_deg_linear(5, swing, drop) == pytest.approx(five, abs=6e-4)
    assert escapement.offset_deg(5, swing, drop) == pytest.approx(five, abs=1.1e-3)
    assert escapement.reserve_deg(stops, swing, drop) == pytest.approx(0)


def as_printed(value):
    decimals = len(str(value).partition(".")[2])
    return pytest.approx(value, abs=0.6 * 10**-decimals)


@pytest.mark.parametrize(
    ("percent", "floor", "small"),
    [
        (3, (0.12, 0.6, 0.26, 2.2), (0.19, 0.7, 0.2)),
        (5, (0.20, 1.1, 0.43, 3.7), (0.31, 1.1, 0.33)),
        (10, (0.41, 2.1, 0.85, 7.4), (0.62, 2.2, 0.65)),
        (20, (0.79, 4.1, 1.7, 14.5), (1.20, 4.2, 1.3)),
    ],
)
def test_table_of_shim_foot_and_slip(percent, floor, small):
    # derived: floor clock A 3, g 1.5, base 300, fork 120, bob at 1050 mm; small clock A 5, g 3, base 200, fork 60
    angle = escapement.offset_deg(percent, 3, 1.5)
    sizes = [angle, *(escapement.size_mm(angle, arm) for arm in (300, 120, 1050))]
    assert sizes == [as_printed(value) for value in floor]
    angle = escapement.offset_deg(percent, 5, 3)
    sizes = [angle, *(escapement.size_mm(angle, arm) for arm in (200, 60))]
    assert sizes == [as_printed(value) for value in small]


@pytest.mark.parametrize(("angle", "shim"), [(0.136, 0.7), (1.0, 5.2)])
def test_shim_under_a_base_of_300_mm(angle, shim):
    assert escapement.size_mm(angle, 300) == pytest.approx(shim, abs=0.04)  # derived


def test_turn_of_a_screw_of_half_a_millimeter():
    # derived: 0.239 degrees at 120 mm, 5.85 % at A = 3, gamma = 1.5
    angle = escapement.angle_deg(0.5, 120)
    assert angle == pytest.approx(0.239, abs=0.0005)
    assert escapement.beat_error_percent_linear(angle, 3, 1.5) == pytest.approx(5.85, abs=0.01)


def test_offset_from_hand_travel():
    # derived: r = 20, l = 30 mm at R = 1050 mm: right early by 0.273 degrees, shim 1.43 mm on 300 mm
    offset = escapement.offset_from_hand_travel(20, 30, 1050)
    assert offset == pytest.approx(0.273, abs=0.001)
    assert escapement.early_side(offset) == "right"
    assert escapement.size_mm(offset, 300) == pytest.approx(1.43, abs=0.01)


@pytest.mark.parametrize(("play", "angle"), [(0.1, 0.05), (0.5, 0.24)])
def test_lost_motion_of_a_wide_fork(play, angle):
    assert escapement.lost_motion_deg(play, 120) == pytest.approx(angle, abs=0.005)  # derived


def test_split_of_a_beat_error():
    assert escapement.split_percent(-12.8) == pytest.approx((56.4, 43.6))


@pytest.mark.parametrize(("beats", "difference_ms"), [(3600, 100), (7200, 50)])
def test_five_percent_in_milliseconds(beats, difference_ms):
    # derived: 5 % is a difference of 100 ms at 3600/h, 50 ms at 7200/h; shown is half of it
    assert 2 * escapement.beat_error_ms(5, beats) == pytest.approx(difference_ms)


@given(st.floats(1.2, 6), st.floats(0.3, 0.85), st.floats(-0.95, 0.95))
def test_offset_and_beat_error_undo_each_other(swing, share, part):
    drop = share * swing
    offset = part * (swing - drop)
    percent = escapement.beat_error_percent(offset, swing, drop)
    assert escapement.offset_deg(percent, swing, drop) == pytest.approx(offset, abs=1e-9)


@given(st.floats(1.2, 6), st.floats(0.3, 0.85), st.floats(-0.9, 0.9))
def test_beat_error_is_that_of_a_sampled_sine(swing, share, part):
    drop = share * swing
    offset = part * (swing - drop)
    right, left = drop - offset, -(drop + offset)

    def crossing(level, start, end):
        return brentq(lambda phase: swing * math.sin(phase) - level, start, end, xtol=1e-13)

    tick_right = crossing(right, -math.pi / 2, math.pi / 2)
    tick_left = crossing(left, math.pi / 2, 3 * math.pi / 2)
    bob_right = tick_left - tick_right
    expected = 100 * (bob_right - (2 * math.pi - bob_right)) / (2 * math.pi)
    assert escapement.beat_error_percent(offset, swing, drop) == pytest.approx(expected, abs=1e-6)


def test_an_impossible_beat_error_is_refused():
    with pytest.raises(UsageError, match="would have stopped"):
        escapement.offset_deg(60, 3, 1.5)


def test_beyond_its_reserve_a_clock_has_no_beat():
    assert math.isnan(escapement.beat_error_percent(1.6, 3, 1.5))


# --- directions: a numerical model of tilted case, arbor, crutch and plumb leader --------------------------------


def tick_angles(*, case_tilt_deg=0.0, crutch_bend_deg=0.0, grip_on_leader_mm=0.0, fork_mm=120.0, drop_deg=1.5):
    """Angles of the plumb-hung pendulum at its right and left tick, by solving the geometry point by point.

    All angles are counterclockwise as you face the dial, so that a positive one carries the bottom of a thing
    to the right. The arbor is the origin; leader and spring hang in one line with it.
    """

    def pallet_angle(pendulum):
        # The grip sits on the leader, moved sideways at right angles to it.
        down = np.array([math.sin(pendulum), -math.cos(pendulum)])
        right = np.array([math.cos(pendulum), math.sin(pendulum)])
        grip = down * fork_mm + right * grip_on_leader_mm
        crutch = math.atan2(grip[0], -grip[1])
        return crutch - math.radians(crutch_bend_deg) - math.radians(case_tilt_deg)

    drop = math.radians(drop_deg)
    right = brentq(lambda pendulum: pallet_angle(pendulum) - drop, -0.5, 0.5)
    left = brentq(lambda pendulum: pallet_angle(pendulum) + drop, -0.5, 0.5)
    return math.degrees(right), -math.degrees(left)


def offset_by_geometry(**moved):
    right, left = tick_angles(**moved)
    return (left - right) / 2


ARM_MM, STEP_MM = 120.0, 0.4
STEP_DEG = math.degrees(STEP_MM / ARM_MM)
BY_GEOMETRY = {
    # raising the right foot turns the case so that its bottom goes to the right: the same as pushing it there
    "case-feet": {"case_tilt_deg": STEP_DEG},
    "case-hook": {"case_tilt_deg": STEP_DEG},
    "crutch-bend": {"crutch_bend_deg": STEP_DEG},
    "crutch-adjuster": {"crutch_bend_deg": STEP_DEG},
    "friction-crutch": {"crutch_bend_deg": STEP_DEG},
    "leader-adjuster": {"grip_on_leader_mm": STEP_MM},
}


@pytest.mark.parametrize("adjuster", BY_GEOMETRY)
@pytest.mark.parametrize("side", ["right", "left"])
def test_change_of_offset_is_that_of_the_geometry(adjuster, side):
    sign = 1 if side == "right" else -1
    moved = {name: sign * value for name, value in BY_GEOMETRY[adjuster].items()}
    change = escapement.offset_change(adjuster, side, STEP_MM, ARM_MM)
    assert change == pytest.approx(offset_by_geometry(**moved), abs=1e-4)


@pytest.mark.parametrize("adjuster", BY_GEOMETRY)
@pytest.mark.parametrize("early", ["right", "left"])
def test_each_adjuster_moved_as_told_reduces_the_offset_and_the_opposite_raises_it(adjuster, early):
    # Beckett p. 79 for case and crutch; the leader by geometry
    start = 0.3 if early == "right" else -0.3
    side = escapement.side_to_move(adjuster, early)
    better = start + escapement.offset_change(adjuster, side, STEP_MM, ARM_MM)
    worse = start + escapement.offset_change(adjuster, escapement.other(side), STEP_MM, ARM_MM)
    assert abs(better) < abs(start) < abs(worse)


@pytest.mark.parametrize(
    ("adjuster", "side"),
    [("case-feet", "right"), ("crutch-bend", "right"), ("crutch-adjuster", "right"), ("friction-crutch", "right"),
     ("leader-adjuster", "left"), ("case-hook", "right")],
)  # fmt: skip
def test_right_early_directions(adjuster, side):
    # Beckett p. 79: right early: raise the right side, or the bottom of the crutch to the right
    assert escapement.side_to_move(adjuster, "right") == side


def test_right_early_makes_the_longer_interval_the_one_with_the_bob_on_the_right():
    # derived: right tick at gamma - delta, left tick at gamma + delta
    swing, right, left = 3.0, 1.5 - 0.3, 1.5 + 0.3
    bob_right = math.pi - math.asin(right / swing) + math.asin(left / swing)
    assert bob_right > math.pi
    assert escapement.longer_interval_bob_side(0.3) == "right"
    assert escapement.beat_error_percent(0.3, swing, 1.5) > 0


def test_an_even_beat_has_no_early_side():
    assert escapement.early_side(0) == "unknown"


@pytest.mark.parametrize(("swing", "drop", "stops"), [(2, 1, 1.0), (2.5, 1, 1.5), (3, 1.5, 1.5), (5, 3, 2.0)])
def test_it_stops_from_its_overswing_on(swing, drop, stops):
    # derived: the clock cannot run once the offset is past A - gamma
    assert escapement.stop_offset_deg(swing, drop) == pytest.approx(stops)
    assert escapement.swing_needed_deg(stops, drop) == pytest.approx(swing)
    assert math.isnan(escapement.beat_error_percent(stops * 1.001, swing, drop))
    assert escapement.beat_error_percent(stops * 0.999, swing, drop) < escapement.stop_percent(swing, drop)


def test_the_largest_beat_error_of_a_regulator():
    # derived: at A = 2, gamma = 1 the early tick is then at rest and the late one at the end of the swing: 50 %
    assert escapement.stop_percent(2, 1) == pytest.approx(50, abs=0.01)


@pytest.mark.parametrize(("swing", "drop"), [(1.5, 1.5), (1, 2), (2, 0)])
def test_a_swing_that_does_not_reach_the_drop_is_refused(swing, drop):
    with pytest.raises(UsageError, match="must be more than the drop"):
        escapement.stop_offset_deg(swing, drop)
