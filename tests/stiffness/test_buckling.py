"""Buckling of plates: the coefficients against Ritz, and the findings for skins and walls."""

import math

import numpy as np
import pytest
from scipy.linalg import eigh
from shapely.affinity import rotate
from shapely.geometry import Polygon, box

from sparwright.answers import BadInput, Verdict
from sparwright.stiffness.buckling import (
    RESERVE,
    buckling_findings,
    compression_coefficient,
    load_factor,
    plate_stress,
    rectangle_round,
    shear_coefficient,
    skin_critical,
)
from sparwright.stiffness.model import SectionForces

# --- a Ritz solution of our own --------------------------------------------------------------------------


def ritz(ratio, clamped, shear, compression=0.0, terms=12):
    """Least k of an a by b plate, b = 1, a = ratio, under shear and compression along a in these shares (k pi² D/(b² t)).

    Polynomials times the edge functions; exact integrals by Gauss. Energy of bending of a plate with straight supported
    edges is that of the Laplacian squared.
    """
    power = 2 if clamped else 1
    points, weights = np.polynomial.legendre.leggauss(2 * terms + 8)
    basis = [
        np.polynomial.Polynomial.fromroots([-1, 1] * power)
        * np.polynomial.legendre.Legendre.basis(k).convert(kind=np.polynomial.Polynomial)
        for k in range(terms)
    ]
    table = np.array([[p.deriv(d)(points) if d else p(points) for p in basis] for d in range(3)])
    table /= np.abs(table[0]).max(axis=1)[None, :, None]

    def product(i, j):
        return (table[i] * weights) @ table[j].T

    # x = a xi/2, y = b eta/2
    sx, sy = 2 / ratio, 2.0
    laplace = (
        np.kron(product(2, 2), product(0, 0)) * sx**4
        + np.kron(product(0, 0), product(2, 2)) * sy**4
        + (np.kron(product(2, 0), product(0, 2)) + np.kron(product(0, 2), product(2, 0))) * (sx * sy) ** 2
    )
    mixed = np.kron(product(1, 0), product(0, 1)) * sx * sy
    loads = shear * (mixed + mixed.T) + compression * np.kron(product(1, 1), product(0, 0)) * sx**2
    # 1/k is the greatest eigenvalue of loads against bending.
    return 1 / eigh(loads, laplace, eigvals_only=True)[-1] / math.pi**2


@pytest.mark.parametrize(("clamped", "published", "seen"), [(False, 9.34, 9.32452), (True, 14.71, 14.642)])
def test_ritz_finds_the_known_squares(clamped, published, seen):
    """9.34 and 14.71 (from memory), 9.3245 and 14.642 by another Ritz computation."""
    k = ritz(1, clamped, 1.0)
    assert k == pytest.approx(seen, rel=2e-4)
    assert k == pytest.approx(published, rel=0.006)


@pytest.mark.parametrize("clamped", [False, True])
def test_shear_coefficient_of_a_square(clamped):
    assert shear_coefficient(50, 50, clamped) == pytest.approx(ritz(1, clamped, 1.0), rel=0.01)


def test_shear_coefficient_of_longer_plates():
    """5.34 + 4 (b/a)² is a fitted curve: within 4 % of Ritz between (6.34 against 6.55 at 2). 6.34 and 10.38 by the formula."""
    for ratio in (1.5, 2.0, 3.0):
        assert shear_coefficient(ratio, 1) == pytest.approx(ritz(ratio, False, 1.0, terms=14), rel=0.04)
    assert shear_coefficient(2, 1) == shear_coefficient(1, 2) == pytest.approx(6.34)
    assert shear_coefficient(2, 1, clamped=True) == pytest.approx(10.38)


@pytest.mark.parametrize("ratio", [0.5, 0.8, 1.0, 1.4, 2.0, 3.3])
def test_compression_coefficient(ratio):
    assert compression_coefficient(ratio, 1) == pytest.approx(ritz(ratio, False, 0.0, 1.0), rel=1e-3)
    assert compression_coefficient(100, 1) == pytest.approx(4, rel=1e-3)


def test_critical_shear_of_a_square_sheet(kit):
    """50 mm square, 1 mm, E 70 000, nu 0.33, hinged: 241.378 MPa (9.34)."""
    tau = shear_coefficient(50, 50) * plate_stress(kit.metal(0.33, 70000), 1.0, 50)
    assert tau == pytest.approx(241.378, rel=1e-4)


@pytest.mark.parametrize("share", [0.3, 1.0, 3.0])
def test_shear_and_compression_together(share):
    """(s)² + c = 1 against Ritz for a hinged plate twice as long as wide: within 8 %."""
    pure_shear, pure_push = ritz(2, False, 1.0), ritz(2, False, 0.0, 1.0)
    k = ritz(2, False, share, 1.0)
    assert load_factor(share / pure_shear, 1 / pure_push) == pytest.approx(k, rel=0.08)


def test_load_factor_alone():
    assert load_factor(0, 0) == math.inf
    assert load_factor(0.25, 0) == 4
    assert load_factor(0, 0.25) == 4


# --- skins -----------------------------------------------------------------------------------------------


def triangle(side):
    return Polygon([(0, 0), (side, 0), (side / 2, side * math.sqrt(3) / 2)])


def test_triangular_skin_is_taken_low(kit):
    """Under even pressure a hinged triangle stands 16 pi² D/(3 a² t); the rectangle taken instead stands less, pressed one way."""
    metal = kit.metal(1 / 3, 10.7e6)
    # A plate with straight hinged edges buckles under even pressure where a membrane of its outline vibrates: Lamé, from memory.
    exact = 16 / 3 * plate_stress(metal, 0.1126, 6.503)
    handbook = math.pi**2 / (1 - 1 / 9) * 10.7e6 * (0.1126 / 6.503) ** 2
    # Isogrid Design Handbook, example 4.10.3, as reproduced: 35 553 psi.
    assert handbook == pytest.approx(35553.2, rel=2e-3)
    assert exact == pytest.approx(handbook / 2.25, rel=1e-9)
    tau, sigma = skin_critical(triangle(6.503), 0.1126, metal)
    assert sigma < exact < tau


def test_triangle_under_even_pressure_vibrates_like_a_membrane():
    """16 pi²/(3 a²), a = 1, against linear finite elements on the triangle's own grid, extrapolated."""
    found = []
    for n in (24, 48):
        index, points = {}, []
        for i in range(n + 1):
            for j in range(n + 1 - i):
                index[i, j] = len(points)
                points.append((i / n + j / n / 2, j / n * math.sqrt(3) / 2))
        tris = [(index[i, j], index[i + 1, j], index[i, j + 1]) for i in range(n) for j in range(n - i)]
        tris += [
            (index[i + 1, j], index[i + 1, j + 1], index[i, j + 1])
            for i in range(n - 1)
            for j in range(n - 1 - i)
        ]
        K, M = np.zeros((2, len(points), len(points)))
        area = math.sqrt(3) / 4 / n**2
        # All triangles have three equal sides: gradient products 2, -1, -1 over 2 sqrt(3).
        k = (3 * np.eye(3) - 1) / (2 * math.sqrt(3))
        m = area / 12 * (np.eye(3) + 1)
        for t in tris:
            K[np.ix_(t, t)] += k
            M[np.ix_(t, t)] += m
        inner = [v for (i, j), v in index.items() if i > 0 and j > 0 and i + j < n]
        found.append(
            eigh(K[np.ix_(inner, inner)], M[np.ix_(inner, inner)], eigvals_only=True, subset_by_index=[0, 0])[
                0
            ]
        )
    assert found[1] + (found[1] - found[0]) / 3 == pytest.approx(16 * math.pi**2 / 3, rel=1e-3)


def test_rectangle_round_a_turned_pocket():
    assert rectangle_round(rotate(box(0, 0, 30, 12), 27)) == pytest.approx((12, 30))


def test_square_skin_is_the_plate_itself(kit):
    metal = kit.metal()
    tau, sigma = skin_critical(box(0, 0, 30, 30), 1.0, metal)
    unit = plate_stress(metal, 1.0, 30)
    assert (tau / unit, sigma / unit) == pytest.approx((9.34, 4.0))


def test_long_skin_pressed_the_short_way_stands_least(kit):
    """Toward a wide strut's pi² D/b² t (1.09 at 1 : 4.8), not the long plate's 4."""
    metal = kit.metal()
    _, sigma = skin_critical(box(0, 0, 96, 20), 1.0, metal)
    assert sigma / plate_stress(metal, 1.0, 20) == pytest.approx(
        ritz(20 / 96, False, 0, 1.0) * (20 / 96) ** 2, rel=1e-3
    )


@pytest.mark.parametrize("measures", [(0.0, 20), (1.0, -3)])
def test_no_plate_is_refused(kit, measures):
    with pytest.raises(BadInput, match="both must be above 0"):
        plate_stress(kit.metal(), *measures)


# --- findings --------------------------------------------------------------------------------------------


def _member(kit, skin):
    a = kit.section(width=80, height=40, wall=4)
    return kit.member(
        a, [kit.field_on(a, "top", 4.0, radius=1.5, pocket="hexagon", cell=26, rib=4, skin=skin)]
    )


def test_findings_name_the_field_and_the_wall(kit):
    skin, wall = buckling_findings(_member(kit, 0.5), [SectionForces(600, T=20000, N=-500)])
    assert (skin.name, skin.where) == ("skin buckling, hexagons", "hexagons on top")
    assert (wall.name, wall.where) == ("wall buckling", "top")
    assert skin.verdict is wall.verdict is Verdict.GO
    assert skin.limit == RESERVE
    assert skin.margin == pytest.approx(skin.value - RESERVE)
    assert "Leave" not in skin.why


def test_a_plain_wall_against_the_long_plate(kit):
    """Torque alone on a plain tube: 5.34 pi² D/(76² t) over T/(2 A t), A = 76 x 36."""
    plain = kit.member(kit.section(width=80, height=40, wall=4))
    (wall,) = buckling_findings(plain, [SectionForces(0, T=1e6)])
    tau = 5.34 * math.pi**2 * 69500 / (12 * (1 - 0.33**2)) * (4 / 76) ** 2
    assert wall.value == pytest.approx(tau / (1e6 / (2 * 76 * 36 * 4)), rel=0.02)


def test_too_much_load_gets_a_remedy(kit):
    tube = _member(kit, 0.2)
    fine = buckling_findings(tube, [SectionForces(600, T=1000)])[0]
    near, over = (
        buckling_findings(tube, [SectionForces(600, T=1000 * fine.value / f)])[0] for f in (1.2, 0.8)
    )
    assert (near.verdict, over.verdict) == (Verdict.CAUTION, Verdict.NO_GO)
    assert over.value == pytest.approx(0.8)
    assert over.why.endswith("Leave a thicker skin or make the pockets smaller.")


def test_windows_have_no_skin_to_buckle(kit):
    findings = buckling_findings(_member(kit, 0.0), [SectionForces(600, T=1000)])
    assert [f.name for f in findings] == ["wall buckling"]


def test_nothing_without_forces(kit):
    assert buckling_findings(_member(kit, 0.5), []) == []
