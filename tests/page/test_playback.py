"""Playback: the surface at any moment is what the programs have cut until then; a seek costs next to nothing."""

from __future__ import annotations

import math
import re
from types import SimpleNamespace

import numpy as np
import pytest
from picture_help import bare_page

from sparwright.cutting.holes import drill_feed
from sparwright.job.models import Cutter
from sparwright.page.pictures import PictureData
from sparwright.page.pictures.playback import build, machine_force
from sparwright.page.simulated import KINDS, events_of, packed_events, path_points
from sparwright.proof.kernels import Sweeps
from sparwright.proof.load_checks import greatest_force
from sparwright.proof.tiles import cut_tiles

pytestmark = pytest.mark.xdist_group("browser")
MANY = 200_000


@pytest.fixture(scope="module")
def runs(short_runs):
    return {run.side: run for run in short_runs}


@pytest.fixture(scope="module")
def data(short_runs):
    return build(short_runs)


def surface_at(packed: np.ndarray, code: dict, done: int) -> np.ndarray:
    """As the shader finds it: heights after so many motions."""
    found = packed[0].copy()
    for layer in packed[1:]:
        found = np.where((layer >> 12) <= (done >> code["shift"]), layer, found)
    steps = found & 4095
    return np.where(steps == 4095, -1e6, code["top"] - steps * code["step"])


@pytest.mark.parametrize("share", [0.0, 0.15, 0.5, 0.83, 1.0])
@pytest.mark.parametrize("side", ["front", "back", "pads"])
def test_the_surface_is_what_was_cut_until_then(runs, side, share):
    run = runs[side]
    events = events_of(run)
    packed, code = packed_events(events, len(run.kinds))
    done = round(share * len(run.kinds))
    case = run.case
    step = round(events.grid.cell / case.scene.grid.cell)
    before = np.ascontiguousarray(case.scene.before[step // 2 :: step, step // 2 :: step])
    part = Sweeps(*(a[case.move_of < done] for a in case.sweeps))
    if len(part.kind):
        cut = cut_tiles(before, events.grid, events.tops, events.bottoms, part, case.tools, 0.1, 0.2, 1).after
    else:
        cut = before
    found = surface_at(packed, code, done)
    off = np.abs(found - cut) > code["step"]
    # Of ramps within one level only the last lowering is kept: a few places show it late, none too early.
    assert off.mean() < (0.004 if 0 < share < 1 else 1e-9)
    assert (found >= cut - code["step"]).all()
    if share > 0:
        assert (cut < before - 0.1).any()


def test_no_motion_is_lost_in_twenty_bits(runs):
    events = events_of(runs["back"])
    packed, code = packed_events(events, 3_000_000)
    assert code["shift"] == 2
    assert np.array_equal(packed >> 12, (events.move + 1).astype(np.uint32) >> 2)


def test_the_path_keeps_to_its_arcs(runs):
    moves = runs["back"].case.moves
    points, ends = path_points(runs["back"].case)
    assert len(ends) == len(moves.line)
    arcs = np.flatnonzero(moves.turn != 0)
    assert len(arcs) > 100
    pose = runs["back"].case.scene.pose
    c, s = np.cos(pose.angle), np.sin(pose.angle)
    for k in arcs[:: len(arcs) // 50]:
        chain = points[(ends[k - 1] if k else 0) : ends[k] + 1]
        bed = np.column_stack([c * chain[:, 0] - s * chain[:, 1], s * chain[:, 0] + c * chain[:, 1]])
        bed += (pose.x, pose.y)
        radius = np.hypot(*(moves.start[k] - moves.centre[k])[:2])
        middles = (bed[1:] + bed[:-1]) / 2
        for place in (bed, middles):
            away = np.hypot(*(place - moves.centre[k, :2]).T)
            assert np.abs(away - radius).max() < 0.025
        assert np.allclose(bed[-1], moves.end[k, :2], atol=1e-6)


def test_kinds_are_those_the_programs_say(runs):
    run = runs["front"]
    found = {KINDS[k] for k in np.unique(run.kinds)}
    assert {"rapid", "clear", "floor", "edge break"} <= found
    assert "other" not in found
    assert np.array_equal(run.kinds == 0, run.case.moves.rapid)
    for k in np.flatnonzero(run.kinds > 0)[::97]:
        text = run.case.texts[run.case.moves.program[k]].split("\n")[: run.case.moves.line[k]]
        begun = next(i for i, line in enumerate(text) if not line.startswith("("))
        said = [line for line in text[begun:] if "/" not in line and any(w in line for w in KINDS[1:])]
        assert KINDS[run.kinds[k]] in said[-1]


def test_forces_are_told_with_what_machine_and_cutter_take(data, runs):
    for k, meta in enumerate(data.meta["sides"]):
        run = runs[meta["side"]]
        cutters = run.case.job.cutters
        assert meta["limit"] == run.case.job.file.cutting.thrust_limit
        force, share, tool = (data.arrays[f"{k}.{name}"] for name in ("force", "share", "tool"))
        assert data.arrays[f"{k}.steady"].max() > 0
        loaded = share > 0
        assert loaded.any()
        snaps = np.array([greatest_force(c) for c in cutters])[tool]
        assert np.allclose(share[loaded], 100 * force[loaded] / snaps[loaded])


def dark(tab, top: float, left: float) -> int:
    """Pixels of ink in a band of the time line's first curve, 2 px tall, `top` below its upper edge, behind its words."""
    return tab.evaluate(
        """([top, left]) => { const c = document.querySelector(".timeline canvas"), r = c.width / c.clientWidth;
        const copy = new OffscreenCanvas(c.width, c.height).getContext("2d", { willReadFrequently: true });
        copy.drawImage(c, 0, 0);
        const { data } = copy.getImageData(left * r, Math.round(top * r), c.width - left * r, 2 * r);
        let n = 0; for (let i = 0; i < data.length; i += 4) n += data[i + 3] > 200 && data[i] < 60 && data[i + 1] < 60 && data[i + 2] < 60; return n; }""",
        [top, left],
    )


def test_the_limit_is_a_dashed_line_and_what_is_over_it_stands_out(data, opened):
    low = PictureData(
        data.meta
        | {
            "sides": [
                s | {"limit": 0.5 * float(data.arrays[f"{k}.steady"].max())}
                for k, s in enumerate(data.meta["sides"])
            ]
        },
        data.arrays,
    )
    lines, over = [], []
    for picture in (data, low):
        with bare_page("playback", picture) as address:
            tab = opened(address)
            tab.wait_for_selector("body[data-ready]")
            lines.append(dark(tab, 17, 8))  # a limit far above the force is the top of the scale
            over.append(dark(tab, 26, 8))
    wide = tab.evaluate("document.querySelector('.timeline canvas').width")
    assert 0.4 * wide < lines[0] / 2 < 0.7 * wide
    assert over[0] == 0
    assert over[1] > 0.05 * wide


@pytest.mark.parametrize(("kind", "angle"), [("drill", 118.0), ("drill", 135.0), ("vee", 90.0)])
def test_a_plunge_of_several_edges_loads_the_machine_with_the_thrust_of_its_feed(bridge_job, kind, angle):
    metal = bridge_job.material
    size = {
        "number": 1,
        "name": "it",
        "diameter": 3.3,
        "flute_length": 20,
        "stick_out": 30,
        "shank": 3.3,
        "chip": 0.03,
    }
    cutter = Cutter(kind=kind, flutes=2, included_angle=angle, **size)
    feed = drill_feed(cutter, metal, bridge_job.bed, 1e6)
    edge = metal.cutting_force * (1 + metal.cutting_spread) * feed.chip ** (1 - metal.cutting_exponent) * 1.65
    single = Cutter(kind="flat", flutes=1, **size)
    case = SimpleNamespace(
        scene=SimpleNamespace(side="top"),
        job=SimpleNamespace(material=metal, cutters=(cutter, single)),
        moves=SimpleNamespace(cutter=np.array([0, 0, 1])),
    )
    loads = SimpleNamespace(
        steady=np.array([2 * edge, 2 * edge, edge]), engaged=np.array([2 * math.pi, 1.0, 2 * math.pi])
    )
    assert machine_force(case, loads) == pytest.approx([feed.force, 2 * edge, edge], rel=1e-5)


def run_kinds(run) -> np.ndarray:
    return np.array(KINDS)[run.kinds]


def repeated(data: PictureData, k: int) -> PictureData:
    """The picture of one side alone, its motions repeated until there are MANY."""
    arrays = {n.split(".")[1]: a for n, a in data.arrays.items() if n.startswith(f"{k}.")}
    count = len(arrays["ends"])
    times = -(-MANY // count)
    turn = np.repeat(np.arange(times), count)
    last, whole = len(arrays["points"]) - 1, arrays["seconds"][-1]
    out = {n: np.tile(a, times) if a.shape == (count,) else a for n, a in arrays.items()}
    out["ends"] = out["ends"].astype(np.int64) + turn * last
    out["seconds"] = out["seconds"] + turn * whole
    out["points"] = np.vstack([arrays["points"][:1], np.tile(arrays["points"][1:], (times, 1))])
    meta = data.meta | {"sides": [data.meta["sides"][k] | {"moves": count * times}]}
    return PictureData(meta, {f"0.{n}": a for n, a in out.items()})


SEEKS = """async () => { const spent = [];
for (let i = 0; i < 120; i++) {
  spent.push(window.sparwright.seek(Math.floor(Math.random() * 200000)));
  if (i % 8 === 7) await new Promise(requestAnimationFrame);
}
spent.sort((a, b) => a - b);
return [spent[60], spent[114]]; }"""


def test_a_seek_among_many_motions_costs_less_than_a_millisecond(data, opened):
    with bare_page("playback", repeated(data, 1)) as address:
        tab = opened(address)
        tab.wait_for_selector("body[data-ready]")
        assert int(tab.get_by_role("slider").get_attribute("aria-valuemax")) >= MANY
        median, most = tab.evaluate(SEEKS)
        print(f"seek: median {median:.2f} ms, 95th percentile {most:.2f} ms")
        assert median < 1.0


NEAR = """async () => {
  const { FaceView } = await import("./faceview.js");
  const canvas = Object.assign(document.createElement("canvas"), { width: 200, height: 200 });
  const view = new FaceView(canvas);
  const count = 3001, points = new Float32Array(3 * count);
  let seed = 1;
  const next = () => (seed = (16807 * seed) % 2147483647) / 2147483647;
  for (let p = 1; p < count; p++) for (const k of [0, 1]) points[3 * p + k] = points[3 * p - 3 + k] + 8 * next() - 4;
  view.load({ points, ends: new Uint32Array(count - 1).map((_, m) => m + 1), kind: new Uint8Array(count - 1), meta: {} });
  const drawn = (from, to, window) => {
    view.part([0, 0, 200, 200], window);
    view.blank();
    view.path(from, to, [[0, 0, 0, 1]]);
    const pixels = new Uint8Array(160000);
    view.gl.readPixels(0, 0, 200, 200, view.gl.RGBA, view.gl.UNSIGNED_BYTE, pixels);
    return pixels;
  };
  const kept = view.chunks, found = [];
  for (const at of [3, 800, 1500, 2990]) {
    const [x, s] = [points[3 * at], points[3 * at + 1]];
    for (const [from, to] of [[0, 3000], [5, 2999], [700, 1600], [at, at]]) {
      const window = [x - 15, s - 15, x + 15, s + 15];
      const some = drawn(from, to, window);
      view.chunks = kept.map((_, k) => (k % 4 < 2 ? -1e9 : 1e9));
      const all = drawn(from, to, window);
      view.chunks = kept;
      found.push([from < to, all.some((v, i) => v !== all[i % 4]), all.every((v, i) => v === some[i])]);
    }
  }
  return found;
}"""


def test_a_path_is_drawn_the_same_without_its_parts_far_away(data, opened):
    with bare_page("playback", data) as address:
        tab = opened(address)
        tab.wait_for_selector("body[data-ready]")
        found = tab.evaluate(NEAR)
    assert all(same for _, _, same in found)
    assert sum(some for _, some, _ in found) > 8


def test_it_is_worked_by_keys_alone_and_shows_lines_as_written(data, opened, runs):
    with bare_page("playback", data) as address:
        tab = opened(address)
        tab.wait_for_selector("body[data-ready]")
        slider = tab.get_by_role("slider")
        assert tab.get_by_label("side", exact=True).evaluate("e => e.selectedOptions[0].text") != "pads"
        blank = tab.locator("canvas[role=img]").screenshot()
        for _ in range(60):
            tab.keyboard.press("Tab")
            if slider.evaluate("e => e === document.activeElement"):
                break
        else:
            raise AssertionError("it is not reached by the tab key")
        rate = data.arrays[f"{tab.get_by_label('side', exact=True).input_value()}.rate"]
        assert slider.get_attribute("aria-valuenow") == str(np.flatnonzero(rate > 0)[-1] + 1)
        tab.keyboard.press("Home")
        tab.keyboard.press("PageUp")
        tab.keyboard.press("Shift+ArrowRight")
        tab.keyboard.press("ArrowRight")
        tab.keyboard.press("ArrowLeft")
        assert slider.get_attribute("aria-valuenow") == "1100"
        assert tab.locator("canvas[role=img]").screenshot() != blank
        name = tab.get_by_label("side", exact=True).evaluate("e => e.selectedOptions[0].text")
        case = runs[name].case
        program, line = case.line_of(1099)
        wanted = case.texts[case.moves.program[1099]].split("\n")[line - 1]
        assert tab.locator(".moment code").inner_text() == wanted
        assert f"line {line} of {program}" in tab.locator(".moment").inner_text()
        broken = int(
            np.flatnonzero((run_kinds(runs[name]) == "edge break") & (runs[name].loads.rate > 0))[-1]
        )
        tab.evaluate("m => window.sparwright.seek(m + 1)", broken)
        assert "edge break" in tab.locator(".moment").inner_text()
        assert "cuts nothing" not in tab.locator(".moment").inner_text()
        tab.keyboard.press("End")
        assert slider.get_attribute("aria-valuenow") == str(len(case.moves.line))
        tab.keyboard.press("Home")
        tab.keyboard.press("Space")
        tab.wait_for_function(
            "Number(document.querySelector('[role=slider]').getAttribute('aria-valuenow')) > 50"
        )
        tab.keyboard.press("Space")
        tab.wait_for_timeout(100)
        stood = slider.get_attribute("aria-valuenow")
        tab.wait_for_timeout(300)
        assert slider.get_attribute("aria-valuenow") == stood


def test_the_time_line_is_scrubbed_by_the_pointer(data, opened):
    with bare_page("playback", data) as address:
        tab = opened(address, 390)
        tab.wait_for_selector("body[data-ready]")
        assert tab.evaluate("document.documentElement.scrollWidth <= innerWidth")
        slider = tab.get_by_role("slider")
        slider.scroll_into_view_if_needed()
        box = slider.bounding_box()
        clock = []
        for share in (0.25, 0.75):
            tab.mouse.move(box["x"] + share * box["width"], box["y"] + 20)
            tab.mouse.down()
            tab.mouse.up()
            clock.append(tab.locator(".clock").inner_text())
        minutes = [int(m) + int(s) / 60 for m, s in (re.findall(r"(\d+):(\d+)", c)[0] for c in clock)]
        whole = [int(m) + int(s) / 60 for m, s in (re.findall(r"(\d+):(\d+)", c)[1] for c in clock)]
        assert minutes[0] / whole[0] == pytest.approx(0.25, abs=0.03)
        assert minutes[1] / whole[1] == pytest.approx(0.75, abs=0.03)
