"""Reading a margin off boundary speeds beyond Mach 0.9."""

import math

import numpy as np
import pytest

from calc.fin import high_speed, model

MACHS = np.array([0.6, 0.9, 0.95, 1.05, 1.15, 1.4])
SOUND = 300.0


def read(speeds: list[float], flight: float, *, end: float | None = None) -> high_speed._Reading:
    """Return the margin of a flight at a Mach number below boundaries in units of sound speed."""
    top = min(1.25 * flight, MACHS[-1]) if end is None else end
    return high_speed._read(MACHS, SOUND * np.array(speeds), sound=SOUND, flight=flight, end=top)


def test_flat_boundary() -> None:
    """A boundary at one speed is met where the flight has that speed, whatever the flight's."""
    for flight in (0.8, 0.95, 1.0, 1.1, 1.3):
        found = read([1.0] * 6, flight)
        assert found.ratio == pytest.approx(1.0 / flight)
        assert not found.bound


def test_no_boundary_is_a_limit() -> None:
    """Where no boundary is met the margin is the end of the search, reported as a limit."""
    found = read([math.inf] * 6, 1.0)
    assert (found.ratio, found.bound, found.mach) == (pytest.approx(1.25), True, 1.25)
    assert math.isinf(found.beyond)


def test_dip_passed_on_the_way_counts() -> None:
    """A flight beyond the dip keeps the smallest ratio that it passed: at constant Mach number."""
    dip = [1.4, 1.3, 1.1, 1.2, 1.6, 2.0]
    assert read(dip, 1.1).ratio == pytest.approx(1.2 / 1.05)
    assert read(dip, 1.1).mach == 1.05
    assert read(dip, 1.0).ratio < 1.1 / 0.95


def test_boundary_that_ends_lasts_to_the_next() -> None:
    """Where a boundary ends between two Mach numbers it is taken to last up to the second."""
    found = read([1.2, 1.1, 1.0, math.inf, math.inf, math.inf], 0.9)
    assert found.ratio == pytest.approx(1.0 / 0.9)
    assert not found.bound
    # what it came to before it ended is not forgotten
    assert read([1.2, 1.15, 1.1, *3 * [math.inf]], 1.2).ratio == pytest.approx(1.1 / 1.05)


def test_boundary_that_begins_is_met_before() -> None:
    """A boundary that begins at a Mach number lowers those below it: it may begin between them."""
    limited = high_speed._limited(np.array([1.0, 1.1]), np.array([math.inf, 1.0]))
    assert limited[0] == pytest.approx(1.1**4)
    late = high_speed._limited(np.array([1.0, 1.1]), np.array([1.2, 1.0]))
    assert late[0] == 1.2


@pytest.mark.parametrize("seed", range(20))
def test_no_reading_grows_with_speed(seed: int) -> None:
    """Whatever the boundaries, a faster flight has no larger margin and no jump of one."""
    random = np.random.default_rng(seed)
    speeds = random.uniform(0.7, 3.0, 6).tolist()
    speeds[random.integers(6)] = math.inf
    flights = np.exp(np.arange(math.log(0.75), math.log(1.1), 0.01))
    ratios = np.array([read(speeds, flight, end=1.25 * flight).ratio for flight in flights])
    assert np.all(np.diff(ratios) <= 1e-12)
    assert np.all(np.diff(np.log(ratios * flights)) > -0.05)


@pytest.mark.parametrize("mach", [0.95, 1.0, 1.05, 1.2, 3.0])
def test_blend(mach: float) -> None:
    """Weights add up to one, are those of the ends at the ends, and never go outside."""
    machs = (0.9, *model.FAST_MACHS)
    weights = dict(model.blend(mach, machs))
    assert sum(weights.values()) == pytest.approx(1.0)
    assert all(-1e-12 <= weight <= 1.0 + 1e-12 for weight in weights.values())
    if mach in machs:
        assert weights[machs.index(mach)] == pytest.approx(1.0)
    if mach == 1.0:
        assert weights == {1: pytest.approx(0.5), 2: pytest.approx(0.5)}


def test_boundary_met_at_the_first_mach_number() -> None:
    """A boundary below the first Mach number solved is met there, not extrapolated."""
    found = read([0.5, 2.0, 2.0, 2.0, 2.0, 2.0], 0.8)
    assert (found.ratio, found.mach) == (pytest.approx(0.6 / 0.8), pytest.approx(0.6))
