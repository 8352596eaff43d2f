"""Bench formulas against published solutions; a simulated bench against its truth."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy import integrate, special, stats

from calc.sheet_test import balsa_cut, estimate, measurements, mechanics, posterior
from calc.sheet_test.measurements import Reading
from calc.units import STANDARD_GRAVITY

DATA = Path(__file__).parent / "data"
SHEETS = 400


def published(name: str) -> dict[str, Any]:
    """Read one file of published cases."""
    return tomllib.loads((DATA / f"{name}.toml").read_text(encoding="utf-8"))


def test_tip_loaded_elastica_matches_the_published_table(record: Any) -> None:
    """Sag, shortening and slope of a tip-loaded cantilever: Bisshopp & Drucker 1945."""
    table = published("bisshopp_drucker_1945")
    for case in table["case"]:
        sag, reach, slope = mechanics.elastica_tip(tip_load=case["load"], own_weight=0.0)
        record(
            case=f"strip bent far by a tip load of {case['load']:g} EI/L2",
            parts=("sag over length", "shortening over length"),
            published=(case["sag"], case["shortening"]),
            ours=(float(sag), 1.0 - float(reach)),
            tolerance="1e-5: the printed digits",
            source=table["source"],
        )
        assert float(sag) == pytest.approx(case["sag"], abs=table["source"]["tolerance"])
        assert 1.0 - float(reach) == pytest.approx(
            case["shortening"], abs=table["source"]["tolerance"]
        )
        if "slope" in case:
            assert float(slope) == pytest.approx(case["slope"], abs=table["source"]["tolerance"])


@pytest.mark.parametrize("angle", [0.1, 0.5, 1.0, 1.4])
def test_tip_loaded_elastica_matches_the_elliptic_integrals(angle: float, record: Any) -> None:
    """For a given tip slope the load and sag follow from elliptic integrals (Bisshopp & Drucker).

    sqrt(a) = K(k) - F(phi, k), sag / L = 1 - 2 (E(k) - E(phi, k)) / sqrt(a), with
    k^2 = (1 + sin(slope)) / 2 and sin(phi) = 1 / (k sqrt 2).
    """
    m = (1.0 + math.sin(angle)) / 2.0
    phi = math.asin(1.0 / math.sqrt(2.0 * m))
    root = special.ellipk(m) - special.ellipkinc(phi, m)
    expected = 1.0 - 2.0 * (special.ellipe(m) - special.ellipeinc(phi, m)) / root
    sag, reach, slope = mechanics.elastica_tip(tip_load=root**2, own_weight=0.0)
    record(
        case=f"strip bent to a tip slope of {angle:g} rad",
        parts=("slope, rad", "sag over length"),
        published=(angle, expected),
        ours=(float(slope), float(sag)),
        tolerance="1e-7: elliptic integrals",
        source="K. E. Bisshopp and D. C. Drucker, 1945, with SciPy's elliptic integrals",
        basis="exact",
    )
    assert float(slope) == pytest.approx(angle, abs=1e-7)
    assert float(sag) == pytest.approx(expected, abs=1e-7)
    assert float(reach) == pytest.approx(math.sqrt(2.0 * math.sin(angle)) / root, abs=1e-7)


@pytest.mark.parametrize(("tip_load", "own_weight"), [(0.0, 4.0), (0.0, 20.0), (2.0, 3.0)])
def test_heavy_elastica_matches_an_independent_boundary_value_solver(
    tip_load: float, own_weight: float, record: Any
) -> None:
    """Own weight with large sag: scipy's solve_bvp on the same differential equation."""

    def slopes(s: np.ndarray, y: np.ndarray) -> np.ndarray:
        pull = tip_load + own_weight * (1.0 - s)
        return np.vstack([y[1], -pull * np.cos(y[0]), np.sin(y[0])])

    mesh = np.linspace(0.0, 1.0, 60)
    start = np.vstack([mesh, 1.0 - mesh, mesh**2 / 2.0])
    solution = integrate.solve_bvp(
        slopes, lambda a, b: np.array([a[0], b[1], a[2]]), mesh, start, tol=1e-8
    )
    assert solution.success
    sag, _, slope = mechanics.elastica_tip(tip_load=tip_load, own_weight=own_weight)
    record(
        case=f"heavy strip, tip load {tip_load:g} EI/L2, own weight {own_weight:g} EI/L2",
        parts=("sag over length", "slope, rad"),
        published=(solution.y[2, -1], solution.y[0, -1]),
        ours=(float(sag), float(slope)),
        tolerance="1e-6: the solver's own",
        source="SciPy, solve_bvp, the same equation",
        basis="library",
    )
    assert float(sag) == pytest.approx(solution.y[2, -1], abs=1e-6)
    assert float(slope) == pytest.approx(solution.y[0, -1], abs=1e-6)


def test_small_sag_is_the_textbook_sum(record: Any) -> None:
    """P L^3/3EI + w L^4/8EI for small sag (any beam table, e.g. Roark Table 8.1)."""
    e, t, b, length, rho, load = 4e9, 3e-3, 0.025, 0.15, 160.0, 2e-3
    second = b * t**3 / 12.0
    weight = rho * STANDARD_GRAVITY * b * t
    expected = load * STANDARD_GRAVITY * length**3 / (3 * e * second) + weight * length**4 / (
        8 * e * second
    )
    sag = mechanics.cantilever_sag(
        modulus=e, thickness=t, width=b, length=length, density=rho, tip_load=load
    )
    record(
        case="small sag of a cantilever under tip load and own weight",
        published=expected,
        ours=float(sag),
        unit="m",
        tolerance="1e-4: the sag is small, not nothing",
        source="W. C. Young and R. G. Budynas, Roark's Formulas, table 8.1",
        basis="exact",
    )
    assert float(sag) == pytest.approx(expected, rel=1e-4)


def test_flex_matches_a_numerical_beam_with_shear_and_overhang(record: Any) -> None:
    """Three-point flex with every term against unit-load integration of moment and shear."""
    e, g, t, b, span, over, rho, load = 3e9, 1.5e8, 6e-3, 0.03, 0.1, 0.02, 150.0, 0.2
    w = rho * STANDARD_GRAVITY * b * t
    force = load * STANDARD_GRAVITY
    x = np.linspace(0.0, span / 2.0, 20001)
    reaction = force / 2.0 + w * (span / 2.0 + over)
    moment = reaction * x - w * (x + over) ** 2 / 2.0
    shear = reaction - w * (x + over)
    bending = 2.0 * integrate.simpson(moment * x / 2.0, x=x) / (e * b * t**3 / 12.0)
    sliding = 2.0 * integrate.simpson(shear * 0.5, x=x) / (5.0 / 6.0 * g * b * t)
    ours = mechanics.flex_deflection(
        modulus=e,
        thickness=t,
        width=b,
        span=span,
        load=load,
        density=rho,
        overhang=over,
        shear_modulus=g,
    )
    record(
        case="three-point flex with shear, own weight and overhang",
        published=bending + sliding,
        ours=float(ours),
        unit="m",
        tolerance="1e-9: numerical integration",
        source="unit-load integration of moment and shear, SciPy",
        basis="library",
    )
    assert float(ours) == pytest.approx(bending + sliding, rel=1e-9)


def test_flex_is_the_wood_handbook_beam(record: Any) -> None:
    """k_b 1/48, k_s 1/4 of the Wood Handbook's shear-corrected beam (ch. 9)."""
    e, g, t, b, span, load = 8e9, 5e8, 5e-3, 0.02, 0.08, 0.5
    force = load * STANDARD_GRAVITY
    expected = force * span**3 / 48 / (e * b * t**3 / 12) + force * span / 4 / (g * 5 / 6 * b * t)
    ours = mechanics.flex_deflection(
        modulus=e, thickness=t, width=b, span=span, load=load, shear_modulus=g
    )
    record(
        case="three-point flex of a beam that shears",
        published=expected,
        ours=float(ours),
        unit="m",
        tolerance="1e-12: the same formula",
        source="Wood Handbook, FPL-GTR-282, 2021, chapter 9",
    )
    assert float(ours) == pytest.approx(expected, rel=1e-12)


def test_tones_have_the_published_eigenvalues(record: Any) -> None:
    """Frequencies of free and clamped strips give back Blevins' lambda."""
    table = published("blevins_1979_beams")
    e, rho, t, length = 3.4e9, 160.0, 2e-3, 0.3
    scale = math.sqrt(e * t**2 / (12.0 * rho)) / (2.0 * math.pi * length**2)
    for case in table["case"]:
        for mode, eigenvalue in enumerate(case["eigenvalues"], start=1):
            f = mechanics.strip_tone(
                modulus=e,
                density=rho,
                thickness=t,
                length=length,
                support=case["support"],
                mode=mode,
            )
            record(
                case=f"tone of a {case['support']} strip, eigenvalue {mode}",
                published=eigenvalue,
                ours=math.sqrt(float(f) / scale),
                tolerance="2e-5: the printed digits",
                source=table["source"],
            )
            assert math.sqrt(float(f) / scale) == pytest.approx(
                eigenvalue, rel=table["source"]["tolerance"]
            )


@pytest.mark.parametrize(("support", "sign"), [("free", 1.0), ("clamped", -1.0)])
def test_tones_solve_the_frequency_equation(support: Any, sign: float) -> None:
    """Lambda from each tone solves cos(x) cosh(x) = 1 (free) or -1 (clamped)."""
    e, rho, t, length = 3.4e9, 160.0, 2e-3, 0.3
    scale = math.sqrt(e * t**2 / (12.0 * rho)) / (2.0 * math.pi * length**2)
    for mode in (1, 2, 3):
        f = mechanics.strip_tone(
            modulus=e, density=rho, thickness=t, length=length, support=support, mode=mode
        )
        x = math.sqrt(float(f) / scale)
        assert math.cos(x) == pytest.approx(sign / math.cosh(x), abs=1e-7)


def test_shear_and_rotation_agree_with_impulse_excitation_standard(record: Any) -> None:
    """For an isotropic bar with Poisson's ratio 0 the correction is 6.585 (t/L)^2 (ASTM E1876)."""
    expected = published("blevins_1979_beams")["shear_and_rotation"]
    e, t, length = 1e10, 1e-3, 0.1
    common = {"modulus": e, "density": 500.0, "thickness": t, "length": length}
    plain = mechanics.strip_tone(**common)
    corrected = mechanics.strip_tone(**common, shear_modulus=e / expected["modulus_ratio"])
    coefficient = ((float(plain) / float(corrected)) ** 2 - 1.0) / (t / length) ** 2
    record(
        case="shear and rotation in a tapped bar, coefficient of (t/L)2",
        published=expected["coefficient"],
        ours=coefficient,
        tolerance="1 %: a bar of finite slenderness",
        source="ASTM E1876, impulse excitation; coefficient from memory, unverified",
    )
    assert coefficient == pytest.approx(expected["coefficient"], rel=expected["tolerance"])


def torsion_factor(ratio: float) -> float:
    """Return Saint-Venant's factor k1 of a rectangle; its torsion constant is J = k1 b t^3.

    k1 = 1/3 (1 - 192/pi^5 (t/b) sum over odd n of tanh(n pi b / 2t) / n^5), with ratio b / t of
    long over short side: Timoshenko & Goodier, Theory of Elasticity, 3rd ed. (1970), art. 109.
    """
    n = np.arange(1, 40, 2)
    series = float(np.sum(np.tanh(n * np.pi * ratio / 2.0) / n**5))
    return (1.0 - 192.0 / math.pi**5 * series / ratio) / 3.0


def test_torsion_factor_matches_the_published_table(record: Any) -> None:
    """Saint-Venant factor of a rectangle: Timoshenko & Goodier, table of k1."""
    table = published("timoshenko_goodier_torsion")
    for case in table["case"]:
        record(
            case=f"torsion factor of a rectangle, {case['ratio']:g} to 1",
            published=case["k1"],
            ours=torsion_factor(case["ratio"]),
            tolerance="6e-4: half a unit of the last digit, and the table's own rounding",
            source=table["source"],
        )
        assert torsion_factor(case["ratio"]) == pytest.approx(
            case["k1"], abs=table["source"]["tolerance"]
        )


def test_plate_and_strip_twist_agree_for_a_thin_sheet() -> None:
    """A square held by opposite edges and by corners has the same G: both reduce to G t^3 / 3.

    Corner forces P on arms a make a torque P a at either end of a plate of length b.
    """
    g, t, a, b, load = 2e8, 1e-3, 0.2, 0.2, 0.02
    sinking = float(
        mechanics.plate_twist(shear_modulus=g, thickness=t, side_along=a, side_across=b, load=load)
    )
    torque = load * STANDARD_GRAVITY * a
    angle = torque * b / (g * torsion_factor(a / t) * a * t**3)
    # The strip formula keeps the 0.63 t/b of the edges, which the plate formula leaves out.
    assert sinking == pytest.approx(angle * a, rel=0.63 * t / a * 1.1)
    assert sinking < angle * a


def test_cut_ratio_ends_at_the_wood_handbook_values(record: Any) -> None:
    """Quarter-sawn is E_R/E_L, flat-sawn E_T/E_L, and 45 degrees a general tensor rotation."""
    data = published("wood_handbook_balsa_ratios")
    balsa = data["balsa"]
    assert float(balsa_cut.ring_angle_ratio(angle=0.0)) == pytest.approx(balsa["radial"])
    assert float(balsa_cut.ring_angle_ratio(angle=np.pi / 2)) == pytest.approx(balsa["tangential"])
    compliance = np.array(
        [
            [1 / balsa["radial"], -balsa["poisson_rt"] / balsa["radial"], 0.0],
            [-balsa["poisson_rt"] / balsa["radial"], 1 / balsa["tangential"], 0.0],
            [0.0, 0.0, 1 / balsa["rolling_shear"]],
        ]
    )
    c = s = math.sqrt(0.5)
    stress = np.array([c * c, s * s, c * s])
    expected = 1.0 / (stress @ compliance @ stress)
    record(
        case="balsa, stiffness across over along",
        parts=("quarter-sawn", "flat-sawn", "rings at 45 degrees"),
        published=(balsa["radial"], balsa["tangential"], expected),
        ours=[float(balsa_cut.ring_angle_ratio(angle=a)) for a in (0.0, np.pi / 2, np.pi / 4)],
        tolerance="1e-6 at the ends, 1e-12 between: tensor rotation",
        source=data["source"],
    )
    assert float(balsa_cut.ring_angle_ratio(angle=np.pi / 4)) == pytest.approx(expected, rel=1e-12)


def shot_sag(load: np.ndarray, weight: np.ndarray) -> np.ndarray:
    """Sag / length of loaded heavy strips by bisection on the root curvature, Runge-Kutta."""
    low, high = np.zeros_like(load), load + weight
    steps = 80
    h = 1.0 / steps
    sag = np.zeros_like(load)
    for _ in range(45):
        middle = (low + high) / 2.0
        y = np.vstack([np.zeros_like(load), middle, np.zeros_like(load)])

        def slopes(s: float, y: np.ndarray) -> np.ndarray:
            return np.vstack([y[1], -(load + weight * (1.0 - s)) * np.cos(y[0]), np.sin(y[0])])

        for i in range(steps):
            s = i * h
            k1 = slopes(s, y)
            k2 = slopes(s + h / 2, y + h / 2 * k1)
            k3 = slopes(s + h / 2, y + h / 2 * k2)
            k4 = slopes(s + h, y + h * k3)
            y = y + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        above = y[1] > 0.0
        high = np.where(above, middle, high)
        low = np.where(above, low, middle)
        sag = y[2]
    return sag


PRIOR = estimate.Prior(
    modulus_along=3.74e9,
    modulus_across=1.0e8,
    shear_modulus=1.7e8,
    poisson=0.3,
    density=160.0,
    strength_along=21.6e6,
    strength_across=1.0e6,
    shear_strength=2.1e6,
    modulus_cov=0.35,
    across_cov=0.5,
    shear_cov=0.35,
    density_cov=0.25,
    label="balsa",
)


def simulate(
    rng: np.random.Generator, truth: np.ndarray, method: float = 1.0
) -> list[tuple[Reading, list[measurements.SheetTest]]]:
    """Play the bench for many sheets: true values, honest slips of every gauge, noisy readings.

    truth (n, 5): moduli along and across, shear modulus, density, thickness.  Formulas here are
    written out again (shooting, closed forms) rather than taken from the package.
    """
    n = len(truth)
    along, across, shear, rho, t = truth.T

    def slip(value: float, error: float) -> tuple[np.ndarray, float]:
        return value + error * rng.standard_normal(n), error

    gauge = 3e-5
    points = t[:, None] * (1.0 + 0.01 * rng.standard_normal((n, 5)))
    read_t = points + gauge * rng.standard_normal((n, 1))
    nu = 0.3
    curl = -np.log1p(-(nu**2) * across / along)

    def stiff(modulus: np.ndarray, cov: float) -> tuple[np.ndarray, np.ndarray]:
        lift = np.exp(method * cov * rng.standard_normal(n))
        return modulus * lift, lift

    side_l, side_w = 0.915, 0.076
    true_l, true_w = slip(side_l, 1e-3)[0], slip(side_w, 3e-4)[0]
    mass = rho * t * true_l * true_w + 1e-4 * rng.standard_normal(n)

    held_along = np.exp(curl * rng.random(n))
    held_across = np.exp(curl * rng.random(n))

    # Along: sag under own weight plus 40 g, then a free tapped strip.
    e1 = stiff(along, 0.03)[0] * held_along
    span1 = slip(0.30, 1e-3)[0]
    width1 = slip(0.025, 2e-4)[0]
    hung = 0.04
    ei = e1 * width1 * t**3 / 12.0
    sag1 = span1 * shot_sag(
        hung * STANDARD_GRAVITY * span1**2 / ei,
        rho * STANDARD_GRAVITY * width1 * t * span1**3 / ei,
    ) + 5e-4 * rng.standard_normal(n)

    e2 = stiff(along, 0.02)[0] * held_along
    length2 = slip(0.25, 5e-4)[0]
    air = 1.2 + 0.24 * rng.standard_normal(n)
    carried = 1.0 + np.pi / 4.0 * air * width1 / (rho * t)
    tone = (
        4.7300407**2
        / (2.0 * np.pi * length2**2)
        * np.sqrt(e2 * t**2 / (12.0 * rho * carried))
        * (1.0 + 0.005 * rng.standard_normal(n))
    )

    # Across: three-point flex, zero set with the strip lying there, with its own thickness read.
    e3 = stiff(across, 0.03)[0] * held_across
    span3 = slip(0.06, 5e-4)[0]
    width3 = slip(0.04, 3e-4)[0]
    # The bench has 20, 50, 100 and 200 g; the one that sinks nearest to 1.5 mm is used.
    weights = np.array([0.02, 0.05, 0.1, 0.2])
    rate = STANDARD_GRAVITY * span3**3 / (48.0 * e3 * width3 * t**3 / 12.0)
    added = weights[np.argmin(np.abs(np.log(rate[:, None] * weights / 1.5e-3)), axis=1)]
    sunk = rate * added + 3e-5 * rng.standard_normal(n)

    # Twist of a rectangle, one corner loaded.
    g4 = stiff(shear, 0.05)[0]
    corner = 3.0 * 15e-3 * STANDARD_GRAVITY * 0.15 * 0.075 / (g4 * t**3)
    corner = corner + 1e-4 * rng.standard_normal(n)

    benches = []
    for i in range(n):
        thickness = measurements.thickness_reading(readings=read_t[i].tolist(), error=gauge)
        width = Reading(0.025, 2e-4, "strip width")
        tests: list[measurements.SheetTest] = [
            measurements.Weighing(
                Reading(mass[i], 1e-4), Reading(side_l, 1e-3), Reading(side_w, 3e-4)
            ),
            measurements.Cantilever(
                "along", Reading(0.30, 1e-3), width, Reading(sag1[i], 5e-4), Reading(hung)
            ),
            measurements.Tone(
                "along", Reading(0.25, 5e-4), width, Reading(tone[i], 0.005 * tone[i])
            ),
            measurements.Flex(
                "across",
                Reading(0.06, 5e-4),
                Reading(0.04, 3e-4),
                Reading(added[i]),
                Reading(sunk[i], 3e-5),
            ),
            measurements.PlateTwist(
                Reading(0.15), Reading(0.075), Reading(15e-3), Reading(corner[i], 1e-4)
            ),
        ]
        benches.append((thickness, tests))
    return benches


def inside(results: list[estimate.TestedSheet], truth: np.ndarray) -> dict[str, int]:
    """How many true values lie between the stated 10 % and 90 % points."""
    return {
        name: sum(
            getattr(result, name).low <= value <= getattr(result, name).high
            for result, value in zip(results, truth[:, column], strict=True)
        )
        for column, name in enumerate(posterior.QUANTITIES)
    }


def draw_sheets(rng: np.random.Generator, book: estimate.Prior, count: int) -> np.ndarray:
    """Sheets out of the book's own spread, 2.4 mm thick with a few per cent between them."""
    mean, covariance = book.log_spread()
    four = np.exp(rng.multivariate_normal(mean, covariance, size=count))
    return np.column_stack([four, 2.4e-3 * np.exp(0.03 * rng.standard_normal(count))])


@pytest.fixture(scope="module")
def from_the_book() -> tuple[list[estimate.TestedSheet], np.ndarray]:
    """Draw sheets from the book and test each once."""
    rng = np.random.default_rng(20260101)
    truth = draw_sheets(rng, PRIOR, SHEETS)
    results = [
        estimate.update(prior=PRIOR, thickness=thickness, tests=tests)
        for thickness, tests in simulate(rng, truth)
    ]
    return results, truth


def test_simulated_bench_holds_its_stated_interval(
    from_the_book: tuple[list[estimate.TestedSheet], np.ndarray], record: Any
) -> None:
    """The truth lies in the 10-90 % interval in 80 % of 400 sheets, within binomial chance."""
    results, truth = from_the_book
    low, high = stats.binom.ppf([5e-4, 1.0 - 5e-4], SHEETS, 0.8)
    for name, count in inside(results, truth).items():
        if name != "thickness":
            record(
                case=f"simulated bench, {name.replace('_', ' ')}: share of true values inside "
                "the stated range",
                published=0.8,
                ours=count / SHEETS,
                tolerance=f"{low / SHEETS:.3f} to {high / SHEETS:.3f}: chance of 400 sheets",
                source="10 to 90 % range by definition; binomial law",
                basis="exact",
            )
            assert low <= count <= high, (name, count)


def test_simulated_bench_holds_with_an_open_book() -> None:
    """A sheet far from a very wide book: the interval rests on the tests and still holds."""
    rng = np.random.default_rng(20260202)
    wide = estimate.Prior(
        **{
            **PRIOR.__dict__,
            **dict.fromkeys(("modulus_cov", "across_cov", "shear_cov", "density_cov"), 2.0),
            "density_exponent": 0.0,
        }
    )
    truth = np.tile([5.5e9, 9.0e7, 2.6e8, 220.0, 2.35e-3], (SHEETS, 1))
    results = [
        estimate.update(prior=wide, thickness=thickness, tests=tests)
        for thickness, tests in simulate(rng, truth)
    ]
    low, high = stats.binom.ppf([5e-4, 1.0 - 5e-4], SHEETS, 0.8)
    for name, count in inside(results, truth).items():
        if name != "thickness":
            assert low <= count <= high, (name, count)


def test_false_alarms_come_at_the_stated_rate(
    from_the_book: tuple[list[estimate.TestedSheet], np.ndarray],
) -> None:
    """Honest tests and a true book are called into doubt in 5 % of sheets, not more."""
    results, _ = from_the_book
    for subject in ("along", "prior"):
        alarms = sum(
            not entry.agrees
            for result in results
            for entry in result.consistency
            if entry.subject == subject
        )
        low, high = stats.binom.ppf([5e-4, 1.0 - 5e-4], SHEETS, 0.05)
        assert low <= alarms <= high, (subject, alarms)
