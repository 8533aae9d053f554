"""Pictures that are drawn in the page and can be worked there, in a real browser."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from page_help import Page, copy_job, serve

playwright = pytest.importorskip("playwright.sync_api")
pytestmark = pytest.mark.xdist_group("browser")


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Page]:
    for page in serve(copy_job(tmp_path_factory.mktemp("drawn")), "--plan-when-asked"):
        page.until(lambda s: s["bands"][1]["status"] == "fresh", 120)
        yield page


@pytest.fixture
def sheet(chromium, served) -> Iterator[object]:
    """The page at 1280 px; what the console said must be nothing."""
    context = chromium.new_context(viewport={"width": 1280, "height": 1100})
    page, said = context.new_page(), []
    page.on("console", lambda m: said.append(m.text) if m.type in ("error", "warning") else None)
    page.on("pageerror", lambda e: said.append(str(e)))
    page.set_default_timeout(50_000)
    playwright.expect.set_options(timeout=50_000)
    page.goto(served.address)
    yield page
    context.close()
    assert [s for s in said if "GPU stall" not in s and "swiftshader" not in s.lower()] == []


def picture(sheet, question: int, name: str):
    """A picture as soon as it is drawn, scrolled to."""
    sheet.locator(f"#question-{question} button").click()
    found = sheet.locator(f"figure[data-picture={name}][data-ready]")
    found.wait_for()
    found.scroll_into_view_if_needed()
    return found


def placing(served: Page) -> dict:
    return tomllib.loads(served.job.read_text()).get("placing", {})


def dragged(sheet, thing, by: tuple[float, float], *, at: tuple[float, float] = (0.5, 0.5)) -> None:
    box = thing.bounding_box()
    x, y = box["x"] + at[0] * box["width"], box["y"] + at[1] * box["height"]
    sheet.mouse.move(x, y)
    sheet.mouse.down()
    sheet.mouse.move(x + by[0] / 2, y + by[1] / 2)
    sheet.mouse.move(x + by[0], y + by[1], steps=3)
    sheet.mouse.up()


def test_the_pages_margin_is_the_fits_for_any_pose(sheet, bridge_job, bridge_member):
    from sparwright.packet.figures import METRIC
    from sparwright.page.pictures import told
    from sparwright.page.pictures.bed import build
    from sparwright.placing.fitting import fit_job
    from sparwright.placing.place import bench_of

    meta = told(build(bridge_job, bridge_member).meta, METRIC)
    rng = np.random.default_rng(8)
    poses = [{k: meta["lie"][k] for k in ("x", "y", "angle")}]
    for _ in range(14):
        away = rng.normal(0, (4.0, 4.0, 0.5))
        poses.append({k: poses[0][k] + float(d) for k, d in zip(("x", "y", "angle"), away, strict=True)})
    poses.append({"x": 500.0, "y": 400.0, "angle": 3.0})
    found = sheet.evaluate(
        "async ([meta, poses]) => (await import('./static/pose.js')) && Promise.all(poses.map(async (p) => (await import('./static/pose.js')).judged(p, meta)))",
        [meta, poses],
    )
    (bench, _), kinds = bench_of(bridge_member, bridge_job, bridge_member.worked_faces), set()
    for pose, here in zip(poses, found, strict=True):
        says = bridge_job.file.placing.model_copy(
            update={"angle": pose["angle"], "at": (pose["x"], pose["y"])}
        )
        job = bridge_job.model_copy(update={"file": bridge_job.file.model_copy(update={"placing": says})})
        fitted = fit_job(replace(bench, job=job))
        assert here["margin"] == pytest.approx(fitted.lie.margin, abs=1e-6)
        assert here["pads"] is (fitted.arrangement is not None)
        kinds.add((here["margin"] >= 0, here["pads"]))
    assert {(True, True), (False, False)} <= kinds


def test_the_pose_is_dragged_turned_and_given_back(sheet, served):
    expect, text = playwright.expect, served.job.read_text()
    bed = picture(sheet, 2, "bed")
    told, drawing = bed.locator(".told"), bed.locator("svg.bed")
    expect(told).to_contain_text("Where Sparwright puts it.")
    before = float(drawing.get_attribute("data-margin"))
    assert bed.get_by_role("button", name="As Sparwright chooses").is_disabled()

    dragged(sheet, bed.locator(".body"), (-2, 1))
    expect(told).to_contain_text("Written, and worked out anew: the same.")
    after = float(drawing.get_attribute("data-margin"))
    assert 0 <= after < before - 1
    assert set(placing(served)) >= {"angle", "at"}
    expect(sheet.locator("#inside-2 .findings")).to_contain_text(f"{after:.2f}"[:3])

    written = served.job.read_text()
    dragged(sheet, bed.locator(".body"), (60, 0))
    expect(told).to_contain_text("It does not fit")
    expect(told).to_contain_text("Not written into the job.")
    assert drawing.get_attribute("data-fits") == "no"
    assert served.job.read_text() == written
    bed.get_by_role("button", name="Put it back").click()
    expect(drawing).to_have_attribute("data-fits", "yes")

    bed.get_by_role("button", name="As Sparwright chooses").click()
    expect(told).to_contain_text("Where Sparwright puts it.")
    assert not {"angle", "at"} & set(placing(served))
    assert float(drawing.get_attribute("data-margin")) == pytest.approx(before, abs=1e-6)
    served.job.write_text(text)


def test_the_pose_by_keys_and_by_figures(sheet, served):
    expect, text = playwright.expect, served.job.read_text()
    bed = picture(sheet, 2, "bed")
    frame, told = bed.locator(".pose"), bed.locator(".told")
    angle, x = bed.get_by_label("angle"), bed.get_by_label("datum end at X")
    start = float(angle.input_value()), float(x.input_value())
    frame.focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowLeft", "+"):
        sheet.keyboard.press(key)
    expect(told).to_contain_text("Not yet written.")
    assert float(angle.input_value()) == pytest.approx(start[0] + 0.1, abs=2e-3)
    sheet.keyboard.press("Escape")
    expect(told).to_contain_text("Where Sparwright puts it.")
    assert served.job.read_text() == text
    sheet.keyboard.press("ArrowRight")
    sheet.keyboard.press("Enter")
    expect(told).to_contain_text("Written, and worked out anew")
    assert placing(served)["at"][0] == pytest.approx(start[1] + 1, abs=0.01)
    x.fill(str(round(start[1] - 1, 2)))
    x.press("Enter")
    expect(x).to_have_value(str(round(start[1] - 1, 2)))
    expect(told).to_contain_text("worked out anew")
    assert placing(served)["at"][0] == pytest.approx(start[1] - 1, abs=0.01)
    x.fill("700")
    x.press("Enter")
    expect(told).to_contain_text("It does not fit")
    assert placing(served)["at"][0] == pytest.approx(start[1] - 1, abs=0.01)
    bed.get_by_role("button", name="As Sparwright chooses").click()
    expect(told).to_contain_text("Where Sparwright puts it.")
    served.job.write_text(text)
