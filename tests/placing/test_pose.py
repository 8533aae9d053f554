"""Pose from touches: worked examples, uncertainty by formula and by simulation, faults and refusals."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from sparwright.placing.pose import PoseError, Touch, Touches, TouchPose, pose_from_touches, read_touches

LENGTH, WIDTH = 600.0, 60.0
EDGES = {
    "bottom": ((0.0, -1.0), 0.0),
    "top": ((0.0, 1.0), WIDTH),
    "left": ((-1.0, 0.0), 0.0),
    "right": ((1.0, 0.0), LENGTH),
}
TRUE = (137.0, 61.0, math.radians(33.0))


def touch(edge: str, along: float, error: float = 0.0, sigma: float = 0.02, radius: float = 2.0) -> Touch:
    """A touch of one edge at `along` mm on it, of the bar lying at TRUE, with an error along the normal."""
    normal, distance = EDGES[edge]
    n = np.array(normal)
    t = np.array([-n[1], n[0]])
    foot = n * distance + t * (along if edge in ("bottom", "right") else -along)
    q = foot + n * (radius + error)
    c, s = math.cos(TRUE[2]), math.sin(TRUE[2])
    at = (TRUE[0] + q[0] * c - q[1] * s, TRUE[1] + q[0] * s + q[1] * c)
    return Touch(at, normal, distance, sigma=sigma, name=edge)


PLANS = {
    "2+1": [("bottom", 50), ("bottom", 550), ("left", 30)],
    "2+2+1+1": [("bottom", 50), ("bottom", 550), ("top", 50), ("top", 550), ("left", 30), ("right", 30)],
    "4+2+1": [
        ("bottom", 10),
        ("bottom", 200),
        ("bottom", 400),
        ("bottom", 590),
        ("left", 12),
        ("left", 48),
        ("right", 30),
    ],
}


def plan(name: str, errors: np.ndarray | None = None, radius: float = 2.0) -> Touches:
    places = PLANS[name]
    e = np.zeros(len(places)) if errors is None else errors
    return Touches(
        tuple(touch(edge, along, float(err)) for (edge, along), err in zip(places, e, strict=True)),
        radius,
        math.radians(25),
    )


@pytest.mark.parametrize("name", PLANS)
def test_exact_touches_give_the_exact_pose(name: str) -> None:
    pose = pose_from_touches(plan(name))
    assert (pose.x, pose.y, pose.angle) == pytest.approx(TRUE, abs=1e-8)
    assert pose.rejected == ()


def test_four_measured_points_give_the_rigid_pose_of_the_worked_example() -> None:
    """Least-squares rigid pose in two dimensions, worked by centring (Procrustes) and by SVD alike."""
    nominal = np.array([(0, 0), (600, 0), (600, 80), (0, 80)], dtype=float)
    errors = np.array([(0.02, -0.01), (-0.01, 0.02), (0.01, 0.01), (-0.02, -0.02)])
    a = math.radians(0.4)
    turn = np.array([[math.cos(a), -math.sin(a)], [math.sin(a), math.cos(a)]])
    measured = nominal @ turn.T + (12.5, -7.25) + errors
    assert measured[2] == pytest.approx((611.936878, 76.946807), abs=1e-6)
    pose = pose_from_touches(
        Touches(
            tuple(
                Touch((float(q[0]), float(q[1])), point=(float(p[0]), float(p[1])))
                for p, q in zip(nominal, measured, strict=True)
            )
        )
    )
    assert math.degrees(pose.angle) == pytest.approx(0.402941, abs=1e-6)
    assert (pose.x, pose.y) == pytest.approx((12.5022, -7.26538), abs=1e-4)
    assert math.sqrt(sum(r * r for r in pose.residuals) / 4) == pytest.approx(0.0160845, abs=1e-6)
    # sigma / sqrt(sum r²), and the point 700 mm from the centroid: sigma sqrt(1 / n + d² / sum r²).
    assert math.sqrt(pose.covariance[2][2]) == pytest.approx(3.30409e-5, rel=1e-5)
    assert pose.uncertainty_at(300 + 700, 40)[1] == pytest.approx(0.0251979, rel=1e-4)


def test_two_touches_of_a_line_fix_its_angle_to_sigma_root_two_over_length() -> None:
    touches = (touch("bottom", 0), touch("bottom", 600), touch("left", 30))
    pose = pose_from_touches(Touches(touches, 2.0, math.radians(30)))
    assert math.sqrt(pose.covariance[2][2]) == pytest.approx(0.02 * math.sqrt(2) / 600, rel=1e-9)
    assert pose.unchecked == (1, 2, 3)


@pytest.mark.parametrize(("name", "angle_urad"), [("2+1", 57), ("2+2+1+1", 40), ("4+2+1", None)])
def test_predicted_scatter_is_the_scatter_seen(name: str, angle_urad: float | None) -> None:
    rng = np.random.default_rng(4)
    poses = []
    for _ in range(800):
        pose = pose_from_touches(plan(name, rng.normal(0, 0.02, len(PLANS[name]))))
        if not pose.rejected:
            poses.append((pose.x, pose.y, pose.angle))
    spread = np.std(poses, axis=0)
    bias = np.mean(poses, axis=0) - TRUE
    predicted = np.sqrt(np.diag(np.array(pose_from_touches(plan(name)).covariance)))
    assert spread == pytest.approx(predicted, rel=0.08)
    assert np.all(np.abs(bias) < 4 * predicted / math.sqrt(800))
    if angle_urad is not None:
        # sigma sqrt(2) / 500 for one pair, and 1 / sqrt(2) of it for two pairs.
        assert predicted[2] == pytest.approx(angle_urad * 1e-6, rel=0.02)


def test_a_fault_is_named_where_its_edge_carries_enough_touches() -> None:
    rng = np.random.default_rng(7)
    named = {"4+2+1": 0, "2+2+1+1": 0}
    for name in named:
        for _ in range(200):
            errors = rng.normal(0, 0.02, len(PLANS[name]))
            errors[1] += 0.3
            named[name] += pose_from_touches(plan(name, errors)).rejected == (2,)
    # Four on the long edge, two and one across: named in about 99 %; two a side: only about half.
    assert named["4+2+1"] >= 190
    assert 60 <= named["2+2+1+1"] <= 150


def test_a_good_set_is_seldom_accused() -> None:
    rng = np.random.default_rng(11)
    false = sum(bool(pose_from_touches(plan("4+2+1", rng.normal(0, 0.02, 7))).rejected) for _ in range(1500))
    assert false <= 20  # about 0.5 % expected


def test_a_wrong_radius_moves_a_one_sided_datum_and_is_found_with_opposite_edges() -> None:
    moved = pose_from_touches(Touches(plan("2+1").touches, 2.05, TRUE[2]))
    shift = np.array([moved.x - TRUE[0], moved.y - TRUE[1]])
    c, s = math.cos(TRUE[2]), math.sin(TRUE[2])
    assert (shift @ (c, s), shift @ (-s, c)) == pytest.approx((0.05, 0.05), abs=1e-6)
    solved = pose_from_touches(Touches(plan("2+2+1+1").touches, None, TRUE[2]))
    assert solved.radius == pytest.approx(2.0, abs=1e-9)
    assert (solved.x, solved.y, solved.angle) == pytest.approx(TRUE, abs=1e-8)
    with pytest.raises(PoseError, match="opposite edges"):
        pose_from_touches(Touches((*plan("2+1").touches, touch("bottom", 300)), None, TRUE[2]))


@pytest.mark.parametrize(
    "touches",
    [
        [("bottom", 10), ("bottom", 590)],
        [("bottom", 10), ("bottom", 300), ("bottom", 590)],
        [("bottom", 10), ("bottom", 590), ("top", 100)],
        # Three normals through one point, the bar's middle: it can still turn.
        [("bottom", 300), ("top", 300), ("left", 30), ("right", 30)],
        [("bottom", 300), ("bottom", 300.01), ("left", 30)],
    ],
)
def test_layouts_that_leave_a_movement_open_are_refused(touches: list[tuple[str, float]]) -> None:
    with pytest.raises(PoseError, match="do not fix the pose"):
        pose_from_touches(Touches(tuple(touch(e, a) for e, a in touches), 2.0, TRUE[2]))


GOOD = """
probe_radius = 2
sigma = 0.02
about = 30

[[edge]]
name = "bottom"
normal = [0, -1]
distance = 0

[[edge]]
name = "left"
normal = [-1, 0]
distance = 0

[[touch]]
at = [10, -2]
edge = "bottom"

[[touch]]
at = [590, -2]
edge = "bottom"

[[touch]]
at = [-2, 30]
edge = "left"
"""


def read(tmp_path: Path, text: str) -> TouchPose:
    path = tmp_path / "touches.toml"
    path.write_text(text)
    return pose_from_touches(read_touches(path))


def test_a_touches_file_gives_the_pose_and_its_json(tmp_path: Path) -> None:
    found = read(tmp_path, GOOD).as_dict()
    assert (found["x_mm"], found["y_mm"], found["angle_deg"]) == pytest.approx((0, 0, 0), abs=1e-9)
    assert found["u_angle_deg"] == pytest.approx(math.degrees(0.02 * math.sqrt(2) / 580))
    assert found["rejected"] == []


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("at = [590, -2]", "at = [590]", r"line 20: at must be two numbers in brackets, not \[590\]"),
        (
            'at = [-2, 30]\nedge = "left"',
            'at = [-2, 30]\nedge = "lefft"',
            'line 24: no edge "lefft"; this file has bottom, left',
        ),
        (
            "distance = 0\n\n[[touch]]",
            "distence = 0\n\n[[touch]]",
            'line 11: unknown key "distence"; known here: distance',
        ),
        ("sigma = 0.02", "sigma = 0", "sigma must be at least 1e-06, not 0"),
        ("about = 30", "about = thirty", "line 4"),
        ("normal = [0, -1]", "normal = [0, 0]", 'line 6: normal of edge "bottom" must not be zero'),
        ("probe_radius = 2", 'probe_radius = "two"', 'a number in mm, or "unknown"'),
        ('at = [-2, 30]\nedge = "left"', "at = [-2, 30]", "line 24: a touch names either an edge or a point"),
    ],
)
def test_a_bad_file_is_refused_with_file_line_and_remedy(
    tmp_path: Path, old: str, new: str, message: str
) -> None:
    assert old in GOOD
    with pytest.raises(PoseError, match=message) as caught:
        read(tmp_path, GOOD.replace(old, new))
    assert "touches.toml" in str(caught.value)


def test_a_missing_file_is_refused(tmp_path: Path) -> None:
    with pytest.raises(PoseError, match="nothing\\.toml"):
        read_touches(tmp_path / "nothing.toml")


def test_the_touches_file_of_the_documentation_is_read_as_it_stands(tmp_path: Path) -> None:
    text = (Path(__file__).parents[2] / "docs" / "placing.md").read_text(encoding="utf-8")
    example = text.split("```toml")[1].split("```")[0]
    pose = read(tmp_path, example)
    assert math.degrees(pose.angle) == pytest.approx(45, abs=0.1)
    # Not on the datum edge's far side: the member's (0, 0) lies near the datum-end touch.
    assert math.dist((pose.x, pose.y), (18.4, 28.2)) < 60
