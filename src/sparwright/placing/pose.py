"""Where the member really lies: its pose from touched edges and measured hole centres, by least squares.

A touch of an edge says that the probe's centre q, seen in the member's axes, lies on the edge moved outward by
the probe's radius: (R n).(q - t) - d - r = 0, with n the edge's outward normal and d its distance from the
origin. A measured centre says R p + t = q. Gauss-Newton with weights 1 / sigma²; the covariance is the inverse of
the normal matrix, so it stands for the stated sigma, not for the scatter seen. Angles in radians, lengths in mm.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sparwright.answers import BadInput, unread

OUTLIER = 3.29
"""Normalised residual that 0.1 % of good touches exceed (normal distribution)."""
UNCHECKED = 1e-6
"""Redundancy below this: the touch is not checked by any other."""
CONDITION = 1e3
"""Greatest condition of the normalised design; beyond it the layout does not fix the pose."""


class PoseError(BadInput):
    """The touches do not fix a pose, or cannot be read."""


@dataclass(frozen=True)
class Touch:
    """One touch: the probe's centre (X, Y) on the bed, mm, and what it touched, in the member's (x, s).

    Either an edge (outward normal and distance of the edge from the origin along it) or a point (a hole's centre as
    measured). sigma: standard deviation of the touch, mm. name: of the edge or hole, for messages.
    """

    at: tuple[float, float]
    normal: tuple[float, float] | None = None
    distance: float = 0.0
    point: tuple[float, float] | None = None
    sigma: float = 0.02
    name: str = ""


@dataclass(frozen=True)
class Touches:
    """All touches of one set-up. radius: of the probe, mm; None to solve for it. about: angle it lies at, roughly."""

    touches: tuple[Touch, ...]
    radius: float | None = 0.0
    about: float = 0.0


@dataclass(frozen=True)
class TouchPose:
    """The pose found: bed position of the member's (0, 0), its angle, and their covariance.

    covariance: 3 x 3 over (x, y, angle), mm and rad, as nested tuples. rejected: numbers (from 1) of touches left
    out. unchecked: numbers of touches whose error no other touch would show. residuals: of every touch at this
    pose, mm (for a point the length). radius: of the probe, as found where it was not stated.
    """

    x: float
    y: float
    angle: float
    covariance: tuple[tuple[float, ...], ...]
    rejected: tuple[int, ...]
    unchecked: tuple[int, ...]
    residuals: tuple[float, ...]
    radius: float

    def uncertainty_at(self, x: float, s: float) -> tuple[float, float]:
        """Standard uncertainty of the bed position (X, Y) of the member's point (x, s), mm."""
        c, w = math.cos(self.angle), math.sin(self.angle)
        lever = np.array([[1.0, 0.0, -x * w - s * c], [0.0, 1.0, x * c - s * w]])
        cov = lever @ np.array(self.covariance) @ lever.T
        return float(math.sqrt(cov[0, 0])), float(math.sqrt(cov[1, 1]))

    def as_dict(self) -> dict[str, Any]:
        """The pose with the stable keys of the command line's JSON."""
        u = [math.sqrt(self.covariance[i][i]) for i in range(3)]
        return {
            "x_mm": self.x,
            "y_mm": self.y,
            "angle_deg": math.degrees(self.angle),
            "u_x_mm": u[0],
            "u_y_mm": u[1],
            "u_angle_deg": math.degrees(u[2]),
            "rejected": list(self.rejected),
            "unchecked": list(self.unchecked),
            "residuals_mm": list(self.residuals),
            "probe_radius_mm": self.radius,
        }


@dataclass(frozen=True)
class _Solution:
    pose: np.ndarray
    radius: float
    rows: np.ndarray
    residual: np.ndarray
    owner: np.ndarray
    covariance: np.ndarray


def _rows(
    touches: Sequence[Touch], pose: np.ndarray, radius: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Residuals (m,), their derivatives by (x, y, angle, radius) (m, 4), and the touch each belongs to (m,)."""
    c, s = math.cos(pose[2]), math.sin(pose[2])
    turn, turn90 = np.array([[c, -s], [s, c]]), np.array([[-s, -c], [c, -s]])
    values, rows, owner = [], [], []
    for i, touch in enumerate(touches):
        away = np.array(touch.at) - pose[:2]
        if touch.point is not None:
            p = np.array(touch.point)
            for k in range(2):
                unit = np.eye(2)[k]
                values.append(float(unit @ (away - turn @ p)))
                rows.append([-unit[0], -unit[1], -float(unit @ (turn90 @ p)), 0.0])
                owner.append(i)
        elif touch.normal is not None:
            n = np.array(touch.normal) / math.hypot(*touch.normal)
            out = turn @ n
            values.append(float(out @ away) - touch.distance - radius)
            rows.append([-out[0], -out[1], float((turn90 @ n) @ away), -1.0])
            owner.append(i)
    return np.array(values), np.array(rows), np.array(owner)


def _lever(touches: Sequence[Touch]) -> float:
    at = np.array([t.at for t in touches])
    return float(max(1.0, np.hypot(*(at - at.mean(axis=0)).T).max()))


def _check_layout(rows: np.ndarray, lever: float) -> None:
    centre_free = rows.copy()
    centre_free[:, 2] /= lever
    sizes = np.linalg.svd(centre_free, compute_uv=False)
    if len(rows) < rows.shape[1] or sizes[-1] * CONDITION < sizes[0]:
        raise PoseError(
            "these touches do not fix the pose: touch at least two places far apart on one long edge and one place on an edge "
            "across it; contact normals that are all parallel, or all meet in one point, leave a movement open"
            + ("; an unknown probe radius needs touches on opposite edges" if rows.shape[1] == 4 else "")
        )


def _solve(given: Touches, touches: Sequence[Touch], start: np.ndarray) -> _Solution:
    free = 4 if given.radius is None else 3
    state = np.append(start, given.radius or 0.0)
    lever = _lever(touches)
    sigma = np.array([t.sigma for t in touches])
    for _ in range(50):
        # Angle derivatives are taken about the touches' middle, which keeps the normal matrix well scaled.
        value, rows, owner = _rows(touches, state[:3], state[3])
        weight = 1 / sigma[owner]
        a = rows[:, :free] * weight[:, None]
        scale = np.array([1.0, 1.0, 1 / lever, 1.0][:free])
        step, *_ = np.linalg.lstsq(a * scale, -value * weight, rcond=None)
        move = np.zeros(4)
        move[:free] = step * scale
        state = state + move
        if abs(move[:2]).max() < 1e-10 and abs(move[2]) * lever < 1e-10 and abs(move[3]) < 1e-10:
            break
    value, rows, owner = _rows(touches, state[:3], state[3])
    _check_layout(_about_middle(rows, touches, state)[:, :free], lever)
    a = rows[:, :free] / sigma[owner][:, None]
    return _Solution(state[:3], float(state[3]), a, value, owner, np.linalg.inv(a.T @ a))


def _about_middle(rows: np.ndarray, touches: Sequence[Touch], state: np.ndarray) -> np.ndarray:
    """Derivatives with the member turned about the middle of the touches instead of its own origin."""
    middle = np.mean([t.at for t in touches], axis=0) - state[:2]
    moved = rows.copy()
    moved[:, 2] += rows[:, 0] * middle[1] - rows[:, 1] * middle[0]
    return moved


def _starts(given: Touches, touches: Sequence[Touch]) -> list[np.ndarray]:
    """Starting poses: the direction of the longest pair on one edge nearest the stated angle, else that angle."""
    angle, longest = given.about, 0.0
    for i, a in enumerate(touches):
        for b in touches[i + 1 :]:
            if a.point is not None and b.point is not None:
                model = np.subtract(b.point, a.point)
            elif a.normal is not None and a.normal == b.normal and a.distance == b.distance:
                model = np.array([-a.normal[1], a.normal[0]])
            else:
                continue
            seen = np.subtract(b.at, a.at)
            if np.hypot(*seen) <= longest or np.hypot(*model) == 0:
                continue
            longest = float(np.hypot(*seen))
            turn = math.atan2(seen[1], seen[0]) - math.atan2(model[1], model[0])
            period = 2 * math.pi if a.point is not None else math.pi
            angle = turn + period * round((given.about - turn) / period)
    middle = np.mean([t.at for t in touches], axis=0)
    return [np.array([middle[0], middle[1], angle])]


def _normalised(found: _Solution) -> tuple[np.ndarray, np.ndarray]:
    """Greatest normalised residual and least redundancy of each touch."""
    hat = found.rows @ found.covariance @ found.rows.T
    redundancy = np.clip(1 - np.diag(hat), 0, 1)
    weighted = np.abs(found.residual) * np.linalg.norm(found.rows[:, :2], axis=1)
    score = np.where(redundancy > UNCHECKED, weighted / np.sqrt(np.maximum(redundancy, UNCHECKED)), 0.0)
    n = int(found.owner.max()) + 1
    worst = np.array([score[found.owner == i].max() for i in range(n)])
    least = np.array([redundancy[found.owner == i].min() for i in range(n)])
    return worst, least


def pose_from_touches(given: Touches) -> TouchPose:
    """The pose by weighted least squares, with touches rejected whose normalised residual exceeds 3.29.

    The worst is left out and the rest solved again, as long as the rest still fix the pose with something to
    spare. Raises PoseError where the layout does not fix the pose.
    """
    kept = list(range(len(given.touches)))
    rejected: list[int] = []
    if not kept:
        raise PoseError("there are no touches")
    while True:
        touches = [given.touches[i] for i in kept]
        found = _solve(given, touches, _starts(given, touches)[0])
        worst, least = _normalised(found)
        if worst.max() <= OUTLIER or len(found.rows) <= found.rows.shape[1] + 1:
            break
        out = int(worst.argmax())
        rest = kept[:out] + kept[out + 1 :]
        left = [given.touches[i] for i in rest]
        try:
            _solve(given, left, _starts(given, left)[0])
        except PoseError:
            break
        rejected.append(kept[out])
        kept = rest
    everything, _, owner = _rows(given.touches, found.pose, found.radius)
    sizes = [float(np.linalg.norm(everything[owner == i])) for i in range(len(given.touches))]
    signs = [
        1.0 if t.point is not None else float(np.sign(everything[owner == i][0]))
        for i, t in enumerate(given.touches)
    ]
    angle = math.remainder(float(found.pose[2]), 2 * math.pi)
    return TouchPose(
        x=float(found.pose[0]),
        y=float(found.pose[1]),
        angle=angle,
        covariance=tuple(tuple(float(v) for v in row[:3]) for row in found.covariance[:3]),
        rejected=tuple(sorted(i + 1 for i in rejected)),
        unchecked=tuple(kept[i] + 1 for i in np.flatnonzero(least <= UNCHECKED)),
        residuals=tuple(a * b for a, b in zip(sizes, signs, strict=True)),
        radius=found.radius,
    )


# --- the file -------------------------------------------------------------------------------------------

_TOP = {"probe_radius", "sigma", "about", "edge", "touch"}
_EDGE = {"name", "normal", "distance"}
_TOUCH = {"at", "edge", "point", "sigma"}


def _line_of(text: str, table: str, number: int) -> int:
    seen = 0
    for i, line in enumerate(text.splitlines(), 1):
        if line.split("#")[0].strip().replace(" ", "") == f"[[{table}]]":
            seen += 1
            if seen == number:
                return i
    return 1


class _Reader:
    """Reads one touches file; every refusal names the file, the line of the table and the remedy."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            self.text = path.read_text(encoding="utf-8")
            self.data = tomllib.loads(self.text)
        except OSError as fault:
            raise PoseError(f"{unread(path, fault)}; check the name and the folder") from None
        except UnicodeDecodeError:
            raise PoseError(f"{path}: not a text file") from None
        except tomllib.TOMLDecodeError as fault:
            raise PoseError(f"{path}: {fault}") from None

    def refuse(self, what: str, table: str = "", number: int = 0) -> PoseError:
        line = _line_of(self.text, table, number) if table else 1
        return PoseError(f"{self.path}, line {line}: {what}")

    def tables(self, key: str, known: set[str]) -> list[dict[str, Any]]:
        found = self.data.get(key, [])
        if not isinstance(found, list) or not all(isinstance(t, dict) for t in found):
            raise self.refuse(f"{key} must be written as tables [[{key}]]")
        for i, table in enumerate(found, 1):
            self.keys(table, known, key, i)
        return found

    def keys(self, table: dict[str, Any], known: set[str], name: str = "", number: int = 0) -> None:
        for key in table:
            if key not in known:
                raise self.refuse(
                    f'unknown key "{key}"; known here: {", ".join(sorted(known))}', name, number
                )

    def number(
        self, value: Any, what: str, table: str = "", number: int = 0, least: float = -math.inf
    ) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.refuse(f"{what} must be a number, not {value!r}", table, number)
        if value < least:
            raise self.refuse(f"{what} must be at least {least:g}, not {value:g}", table, number)
        return float(value)

    def pair(self, value: Any, what: str, table: str, number: int) -> tuple[float, float]:
        if not isinstance(value, list) or len(value) != 2:
            raise self.refuse(f"{what} must be two numbers in brackets, not {value!r}", table, number)
        a, b = (self.number(v, what, table, number) for v in value)
        return (a, b)


def _read_edges(reader: _Reader) -> dict[str, Touch]:
    edges: dict[str, Touch] = {}
    for i, table in enumerate(reader.tables("edge", _EDGE), 1):
        name = table.get("name")
        if not isinstance(name, str) or not name or name in edges:
            raise reader.refuse("an edge needs a name of its own", "edge", i)
        normal = reader.pair(table.get("normal"), f'normal of edge "{name}"', "edge", i)
        size = math.hypot(*normal)
        if size == 0:
            raise reader.refuse(f'normal of edge "{name}" must not be zero', "edge", i)
        distance = reader.number(table.get("distance"), f'distance of edge "{name}"', "edge", i)
        edges[name] = Touch((0.0, 0.0), (normal[0] / size, normal[1] / size), distance, name=name)
    return edges


def _read_touch(
    reader: _Reader, table: dict[str, Any], i: int, edges: dict[str, Touch], sigma: float
) -> Touch:
    at = reader.pair(table.get("at"), "at", "touch", i)
    own = reader.number(table.get("sigma", sigma), "sigma", "touch", i, least=1e-6)
    if ("edge" in table) == ("point" in table):
        raise reader.refuse("a touch names either an edge or a point [x, s], one of the two", "touch", i)
    if "point" in table:
        return Touch(at, point=reader.pair(table["point"], "point", "touch", i), sigma=own, name="point")
    if table["edge"] not in edges:
        raise reader.refuse(
            f'no edge "{table["edge"]}"; this file has {", ".join(edges) or "none"}', "touch", i
        )
    return replace(edges[table["edge"]], at=at, sigma=own)


def read_touches(path: str | Path) -> Touches:
    """Read a touches file (TOML; see docs/placing.md). Raises PoseError naming file and line."""
    reader = _Reader(Path(path))
    reader.keys(reader.data, _TOP)
    sigma = reader.number(reader.data.get("sigma", 0.02), "sigma", least=1e-6)
    about = reader.number(reader.data.get("about", 0.0), "about")
    radius = reader.data.get("probe_radius", 0.0)
    if radius != "unknown":
        radius = reader.number(radius, 'probe_radius (a number in mm, or "unknown")', least=0.0)
    edges = _read_edges(reader)
    tables = reader.tables("touch", _TOUCH)
    if not tables:
        raise reader.refuse("no touches: write one table [[touch]] for each")
    touches = tuple(_read_touch(reader, t, i, edges, sigma) for i, t in enumerate(tables, 1))
    return Touches(touches, None if radius == "unknown" else radius, math.radians(about))
