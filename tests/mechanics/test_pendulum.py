"""Checks of the pendulum against published values and against mpmath."""

from __future__ import annotations

import math

import mpmath
import pytest
from scipy.integrate import solve_ivp

from diagnose.mechanics import pendulum

BECKETT_LONDON_GRAVITY = 9.81175  # implied by his 39.1393 in for London, sea level, vacuum (p. 35)
MM = 1e3


@pytest.mark.parametrize(("beats", "length_m"), [(3600, 0.993621), (7200, 0.248405)])
def test_length_of_common_trains_at_standard_gravity(beats, length_m):
    # derived from T = 2 pi sqrt(L/g) and g = 9.80665 m/s2 exactly (3rd CGPM 1901)
    assert pendulum.length_m(beats) == pytest.approx(length_m, abs=1e-6)


@pytest.mark.parametrize(
    ("beats", "length_mm", "length_in", "mm_for_a_minute"),
    [
        (3600, 993.62, 39.119, 1.380),
        (4320, 690.01, 27.166, 0.958),
        (4800, 558.91, 22.004, 0.776),
        (5040, 506.95, 19.959, 0.704),
        (5400, 441.61, 17.386, 0.613),
        (5760, 388.13, 15.281, 0.539),
        (6000, 357.70, 14.083, 0.497),
        (6480, 306.67, 12.074, 0.426),
        (7200, 248.41, 9.780, 0.345),
        (8000, 201.21, 7.922, 0.279),
        (8400, 182.50, 7.185, 0.253),
        (9000, 158.98, 6.259, 0.221),
        (9600, 139.73, 5.501, 0.194),
        (10800, 110.40, 4.347, 0.153),
        (12000, 89.43, 3.521, 0.124),
        (14400, 62.10, 2.445, 0.086),
    ],
)
def test_length_table_of_common_trains(beats, length_mm, length_in, mm_for_a_minute):
    # derived at 9.80665 m/s2 (3rd CGPM 1901)
    length = pendulum.length_m(beats) * MM
    assert length == pytest.approx(length_mm, abs=0.006)
    assert length / pendulum.MM_PER_INCH == pytest.approx(length_in, abs=0.0006)
    assert 2 * length * 60 / pendulum.SECONDS_PER_DAY == pytest.approx(mm_for_a_minute, abs=0.0006)


@pytest.mark.parametrize(("beat_s", "printed_in"), [(0.75, 22.016), (2 / 3, 17.396), (0.5, 9.785)])
def test_length_goes_with_the_square_of_the_beat_as_in_the_printed_table(beat_s, printed_in):
    # Beckett p. 36: 22, 17.4 and 9.78 in, from 39.14 in for one second
    gravity = pendulum.STANDARD_GRAVITY * 39.14 / (pendulum.length_m(3600) * MM / pendulum.MM_PER_INCH)
    length_in = pendulum.length_m(3600 / beat_s, gravity) * MM / pendulum.MM_PER_INCH
    assert length_in == pytest.approx(printed_in, abs=0.001)


@pytest.mark.parametrize(
    ("beat_s", "feet", "inches", "printed_to_in"),
    [(4, 52, 2, 0.5), (3, 29, 4, 0.5), (2.5, 20, 5, 0.5), (2, 13, 0.5, 0.5), (1.5, 7, 4, 0.5), (1.25, 0, 61, 0.5)],
)
def test_long_pendulums_of_the_printed_table(beat_s, feet, inches, printed_to_in):
    # Beckett p. 36
    length_in = pendulum.length_m(3600 / beat_s, BECKETT_LONDON_GRAVITY) * MM / pendulum.MM_PER_INCH
    assert length_in == pytest.approx(12 * feet + inches, abs=printed_to_in)


def test_seconds_pendulum_of_london():
    # Beckett pp. 35, 39: 39.1393 in at London, sea level, vacuum
    length_in = pendulum.length_m(3600, BECKETT_LONDON_GRAVITY) * MM / pendulum.MM_PER_INCH
    assert length_in == pytest.approx(39.1393, abs=1e-4)


def test_beats_and_length_undo_each_other():
    assert pendulum.beats_per_hour(pendulum.length_m(8400)) == pytest.approx(8400)


def test_trade_rule_names_a_seconds_movement():
    # common practice, no source: 141120 = 39.2 x 3600
    assert pendulum.beats_per_minute_by_trade_rule(39.2) == pytest.approx(60)


@pytest.mark.parametrize(
    ("latitude", "gravity"),
    [(0, 9.7803253359), (30, 9.7932472692), (45, 9.8061977694), (51.4769, 9.8120131806), (60, 9.8191769531),
     (90, 9.8321849379)],
)  # fmt: skip
def test_gravity_of_wgs84(latitude, gravity):
    # WGS 84 (TR 8350.2), constants second-hand; 51.4769 is Greenwich; the pole reproduces the published 9.8321849378
    assert pendulum.normal_gravity(latitude) == pytest.approx(gravity, abs=1e-9)


@pytest.mark.parametrize(("latitude", "gravity"), [(0, 9.7803267715), (45, 9.8061992025), (90, 9.8321863685)])
def test_gravity_of_grs80(latitude, gravity):
    # GRS 80 (Moritz), second-hand
    assert pendulum.normal_gravity(latitude, pendulum.GRS80) == pytest.approx(gravity, abs=1e-9)


@pytest.mark.parametrize(
    ("latitude", "rate", "seconds_pendulum_mm"),
    [(0, -114.05, 990.95), (30, -57.07, 992.26), (51.4769, 25.62, 994.17), (60, 57.16, 994.89), (90, 114.41, 996.21)],
)
def test_rate_by_latitude_against_45_degrees(latitude, rate, seconds_pendulum_mm):
    # derived from WGS 84
    gravity = pendulum.gravity_at(latitude)
    assert pendulum.rate_by_gravity(gravity, pendulum.gravity_at(45)) == pytest.approx(rate, abs=0.006)
    assert pendulum.length_m(3600, gravity) * MM == pytest.approx(seconds_pendulum_mm, abs=0.006)


@pytest.mark.parametrize(
    ("latitude", "rule_1_in", "rule_2_in"), [(0, 39.010, 39.017), (45, 39.1156, 39.1170), (90, 39.2212, 39.2170)]
)
def test_seconds_pendulum_by_latitude_agrees_with_both_old_rules(latitude, rule_1_in, rule_2_in):
    # Beckett p. 39: 39.1156 (1 - 0.0027 cos 2 phi) and 39.017 + 0.2 sin^2 phi, in inches
    length_in = pendulum.length_m(3600, pendulum.gravity_at(latitude)) * MM / pendulum.MM_PER_INCH
    assert length_in == pytest.approx(rule_1_in, abs=0.005)
    assert length_in == pytest.approx(rule_2_in, abs=0.005)


def test_english_pendulum_at_the_equator_loses_more_than_two_minutes():
    # Beckett p. 39: 2 1/4 minutes a day, rounded; the ellipsoid gives 139.7 s
    rate = pendulum.rate_by_gravity(pendulum.gravity_at(0), pendulum.gravity_at(51.5))
    assert rate == pytest.approx(-139.7, abs=0.05)
    assert rate == pytest.approx(-2.25 * 60, rel=0.04)


def test_standard_gravity_is_not_the_gravity_at_45_degrees():
    # 0.000452 m/s2, worth 1.99 s/day (derived)
    rate = pendulum.rate_by_gravity(pendulum.STANDARD_GRAVITY, pendulum.gravity_at(45))
    assert rate == pytest.approx(1.99, abs=0.01)


def test_altitude_in_free_air():
    # -3.086e-6 1/s2 (second-hand): -13.59 s/day at 1000 m
    low, high = pendulum.STANDARD_GRAVITY, pendulum.STANDARD_GRAVITY + 1000 * pendulum.FREE_AIR_GRADIENT
    assert pendulum.rate_by_gravity(high, low) == pytest.approx(-13.59, abs=0.01)
    assert pendulum.gravity_at(45, 1000) - pendulum.gravity_at(45) == pytest.approx(high - low)


@pytest.mark.parametrize(
    ("degrees", "excess", "loss", "by_rule"),
    [
        (1, 1.903892101e-05, 1.6449, 1.6449),
        (1.5, 4.283850681e-05, 3.7011, 3.7011),
        (2, 7.615967157e-05, 6.5797, 6.5797),
        (2.5, 1.190041602e-04, 10.2807, 10.2808),
        (3, 1.713742167e-04, 14.8042, 14.8044),
        (4, 3.047025061e-04, 26.3183, 26.3189),
        (5, 4.761724860e-04, 41.1217, 41.1234),
        (6, 6.858201160e-04, 59.2142, 59.2176),
        (10, 1.907188143e-03, 164.467, 164.493),
    ],
)
def test_circular_error_table(degrees, excess, loss, by_rule):
    # derived from the elliptic integral; the rule is Beckett p. 34, 5400 a^2
    assert pendulum.circular_error(degrees) == pytest.approx(excess, rel=1e-9)
    assert pendulum.circular_loss(degrees) == pytest.approx(loss, abs=6e-4 if degrees == 10 else 1e-4)
    assert pendulum.circular_loss_by_rule(degrees) == pytest.approx(by_rule, abs=6e-4 if degrees == 10 else 1e-4)


@pytest.mark.parametrize("degrees", [0.01, 0.5, 1, 3, 7, 30, 90, 150, 179])
def test_circular_error_equals_the_elliptic_integral_of_mpmath(degrees):
    with mpmath.workdps(40):
        modulus = mpmath.sin(mpmath.radians(mpmath.mpf(degrees)) / 2)
        expected = float(2 / mpmath.pi * mpmath.ellipk(modulus**2) - 1)
    assert pendulum.circular_error(degrees) == pytest.approx(expected, rel=1e-12, abs=4e-16)


def test_no_swing_has_no_circular_error():
    assert pendulum.circular_error(0) == 0


def test_published_worked_examples_of_the_circular_error():
    # Beckett p. 35: 2 deg "about 6 s"; 2 to 2 1/2 deg "rather less than 4 s"; 10' more at 2 deg "very nearly 1 s"
    assert pendulum.circular_loss(2) == pytest.approx(6, abs=0.6)
    assert pendulum.circular_loss(2.5) - pendulum.circular_loss(2) == pytest.approx(3.70, abs=0.005)
    assert pendulum.circular_loss(2 + 5 / 60) - pendulum.circular_loss(2 - 5 / 60) == pytest.approx(1.10, abs=0.005)


@pytest.mark.parametrize(
    ("material", "seconds"),
    [("steel", 0.498), ("iron", 0.544), ("brass", 0.778), ("wood", 0.179), ("zinc", 1.244), ("lead", 1.283),
     ("invar", 0.052)],
)  # fmt: skip
def test_rate_by_warming_of_each_material(material, seconds):
    # Beckett pp. 53-54 (expansion per 1000 deg F turned into deg C); invar from handbook tables, second-hand
    assert pendulum.rate_by_temperature(pendulum.EXPANSION_PER_C[material]) == pytest.approx(-seconds, abs=6e-4)


@pytest.mark.parametrize(("per_c", "seconds"), [(11.90e-6, 0.514), (19.06e-6, 0.823)])
def test_rate_by_warming_with_the_older_expansion_table(per_c, seconds):
    # Faraday's table, reprinted in American Mechanic
    assert pendulum.rate_by_temperature(per_c) == pytest.approx(-seconds, abs=6e-4)


def test_a_degree_on_a_tempered_steel_rod():
    assert -pendulum.rate_by_temperature(11.52e-6) == pytest.approx(0.4977, abs=1e-4)  # Beckett p. 53


@pytest.mark.parametrize(("material", "days"), [("iron", 7), ("brass", 5), ("wood", 21)])
def test_a_minute_between_40_and_70_fahrenheit(material, days):
    # Beckett p. 52: iron 1 min a week, brass 1 min in 5 days, wood 1 min in 3 weeks
    warmer_c = 30 * 5 / 9
    lost = -pendulum.rate_by_temperature(pendulum.EXPANSION_PER_C[material], warmer_c) * days
    assert lost == pytest.approx(60, rel=0.09)


def test_on_a_plateau_the_rock_gives_part_back():
    # 0.1967 mGal/m net against 0.3086 in free air (from memory)
    sea, tower, plateau = (
        pendulum.gravity_at(45, height, on_a_plateau=wide) for height, wide in ((0, False), (1000, False), (1000, True))
    )
    assert tower < plateau < sea
    assert (sea - plateau) / (sea - tower) == pytest.approx(0.1967 / 0.3086, rel=1e-6)


@pytest.mark.parametrize("degrees", [1, 3, 5, 10])
def test_circular_error_is_its_series(degrees):
    # 1 + a^2/16 + 11 a^4/3072 + 173 a^6/737280 (last term from memory)
    a = math.radians(degrees)
    series = a**2 / 16 + 11 * a**4 / 3072 + 173 * a**6 / 737_280
    assert pendulum.circular_error(degrees) == pytest.approx(series, rel=1e-7)


def test_circular_error_is_that_of_an_integrated_swing():
    # a quarter of the swing from rest at 3 degrees, integrated by scipy to the middle
    start = math.radians(3)
    middle = solve_ivp(
        lambda t, y: [y[1], -math.sin(y[0])], (0, 3), [start, 0], events=_crosses, rtol=1e-12, atol=1e-14
    ).t_events[0][0]
    assert middle / (math.pi / 2) - 1 == pytest.approx(pendulum.circular_error(3), rel=1e-6)


def _crosses(t, y):
    return y[0]


_crosses.terminal = True


def test_rate_by_swing_is_the_difference_of_two_losses():
    assert pendulum.rate_by_swing(2, 2.5) == pytest.approx(-3.70, abs=0.005)  # Beckett p. 35
    assert pendulum.rate_by_swing(2.5, 2) == -pendulum.rate_by_swing(2, 2.5)


def test_a_swing_on_a_ruler_in_degrees():
    assert pendulum.semi_arc_deg(2000 * math.tan(math.radians(3)), 1000) == pytest.approx(3)


def test_trade_rule_is_its_own_opposite():
    assert pendulum.beats_per_minute_by_trade_rule(pendulum.length_by_trade_rule_in(84)) == pytest.approx(84)
