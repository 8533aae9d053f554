"""The view in three dimensions: where things are drawn, what hides what, turned by pointers and keys, its card lost."""

from __future__ import annotations

import numpy as np
import pytest
from picture_help import bare_page

from sparwright.page.pictures.member import build

pytestmark = pytest.mark.xdist_group("browser")

# Two plates that face each other along y, the nearer one red and the other blue, and a line round the red one.
PLATES = """async () => {
  const { View } = await import("./view.js");
  const host = document.body.appendChild(document.createElement("div"));
  host.style.width = "600px";
  const plate = (y) => [0, y, 0, 100, y, 0, 100, y, 40, 0, y, 0, 100, y, 40, 0, y, 40];
  const points = new Float32Array([...plate(0), ...plate(20)]);
  const colours = new Float32Array([...Array(6).fill([1, 0, 0]).flat(), ...Array(6).fill([0, 0, 1]).flat()]);
  const round = [0, 0, 0, 100, 0, 0, 100, 0, 0, 100, 0, 40, 100, 0, 40, 0, 0, 40, 0, 0, 40, 0, 0, 0];
  const view = (window.view = new View(host));
  view.show({ points, colours, ends: new Float32Array(round), ink: [0, 1, 0] }, [0, 0, 0], [100, 20, 40]);
  window.look = () => {
    view.draw();
    const { gl, canvas: { width, height } } = view;
    const pixels = new Uint8Array(4 * width * height);
    gl.readPixels(0, 0, width, height, gl.RGBA, gl.UNSIGNED_BYTE, pixels);
    return [width, height, [...pixels]];
  };
}"""


@pytest.fixture(scope="module")
def address(short_plan):
    with bare_page("member", build(short_plan.job, short_plan.member)) as found:
        yield found


@pytest.fixture
def tab(opened, address):
    found = opened(address)
    found.wait_for_selector("body[data-ready]")
    return found


def look(tab) -> np.ndarray:
    """What the card drew, (height, width, 4), the lowest row first."""
    width, height, pixels = tab.evaluate("look()")
    return np.array(pixels, dtype=int).reshape(height, width, 4)


def middle(picture: np.ndarray) -> str:
    """The colour in the middle."""
    height, width, _ = picture.shape
    return {0: "red", 1: "green", 2: "blue"}[int(np.argmax(picture[height // 2, width // 2, :3]))]


def projected(picture: np.ndarray, round_deg: float, down_deg: float) -> np.ndarray:
    """The box's extent on the screen as it must be, pixels: left, right, low, high."""
    height, width, _ = picture.shape
    a, b = np.radians([round_deg, down_deg])
    right = np.array([-np.sin(a), np.cos(a), 0])
    up = np.array([-np.cos(b) * np.cos(a), -np.cos(b) * np.sin(a), np.sin(b)])
    half = [np.abs(axis) @ np.array([50, 10, 20]) for axis in (right, up)]
    mm = 2.24 * max(half[0] / width, half[1] / height)
    sizes = [(width / 2, half[0] / mm), (height / 2, half[1] / mm)]
    return np.array([centre + sign * size for centre, size in sizes for sign in (-1, 1)])


def drawn(picture: np.ndarray) -> np.ndarray:
    """The extent of what is drawn, pixels: left, right, low, high."""
    rows, columns = np.nonzero(picture[..., 3] > 127)
    return np.array([columns.min(), columns.max() + 1, rows.min(), rows.max() + 1])


def test_a_box_lies_where_geometry_puts_it(tab):
    tab.evaluate(PLATES)
    for round_deg, down_deg in ((-112.8, 65.3), (-90, 90), (-30, 40), (170, 120)):
        tab.evaluate(
            "([round, down]) => { view.turned = { round, down }; view.size(); }",
            np.radians([round_deg, down_deg]).tolist(),
        )
        picture = look(tab)
        assert drawn(picture) == pytest.approx(projected(picture, round_deg, down_deg), abs=1.5)


def test_the_nearer_hides_the_farther_and_lines_lie_before_their_face(tab):
    tab.evaluate(PLATES)
    tab.evaluate("view.turned = { round: -Math.PI / 2, down: Math.PI / 2 }; view.size()")
    picture = look(tab)
    assert middle(picture) == "red"
    left, right, low, high = projected(picture, -90, 90).astype(int)
    rim = [picture[low - 1 : low + 2, 200], picture[high - 1 : high + 2, 200]]
    rim += [picture[100, left - 1 : left + 2], picture[100, right - 1 : right + 2]]
    assert [bool((edge[:, 1] > 100).any()) for edge in rim] == [True] * 4
    assert not (picture[..., 2] > 60).any()
    canvas = tab.locator("canvas").last
    canvas.focus()
    for _ in range(24):
        tab.keyboard.press("ArrowRight")
    picture = look(tab)
    assert middle(picture) == "blue"
    inside = picture[low + 3 : high - 3, left + 3 : right - 3]
    assert not (inside[..., 1] > 60).any(), "a line behind the plate shows through"


def test_pointers_turn_move_and_bring_nearer(tab):
    tab.evaluate(PLATES)
    canvas = tab.locator("canvas").last
    canvas.scroll_into_view_if_needed()
    box, before = canvas.bounding_box(), drawn(look(tab))
    x, y = box["x"] + 300, box["y"] + box["height"] / 2
    tab.mouse.move(x, y)
    tab.mouse.down(button="right")
    tab.mouse.move(x + 40, y + 8, steps=5)
    tab.mouse.up(button="right")
    assert drawn(look(tab)) == pytest.approx(before + np.array([40, 40, -8, -8]), abs=1.5)
    tab.mouse.down()
    tab.mouse.move(x + 40 + box["height"] / 2, y + 8, steps=8)
    tab.mouse.up()
    assert middle(look(tab)) == "blue", "half its height turns it half round"
    tab.mouse.move(x, y, steps=3)
    turned = tab.evaluate("view.turned")
    canvas.focus()
    tab.keyboard.press("0")
    assert drawn(look(tab)) == pytest.approx(before, abs=0.1)
    assert tab.evaluate("view.turned") != turned
    pinch = """() => { const c = view.canvas, at = (type, pointerId, clientX) =>
        c.dispatchEvent(new PointerEvent(type, { pointerId, clientX, clientY: 0, buttons: 1 }));
      c.setPointerCapture = () => {};
      at("pointerdown", 11, 100); at("pointerdown", 12, 200); at("pointermove", 12, 300);
      at("pointerup", 11, 100); at("pointerup", 12, 300); at("pointermove", 12, 400); return view.zoom; }"""
    assert tab.evaluate(pinch) == pytest.approx(2)


def test_a_card_that_was_lost_draws_the_same_again(tab):
    tab.evaluate(PLATES)
    before = look(tab)
    tab.evaluate("window.card = view.gl.getExtension('WEBGL_lose_context'); card.loseContext()")
    tab.wait_for_function("view.gl.isContextLost()")
    tab.wait_for_timeout(100)
    tab.evaluate("card.restoreContext()")
    tab.wait_for_function("!view.gl.isContextLost()")
    tab.wait_for_timeout(200)
    assert (look(tab) == before).all()


def test_a_browser_without_a_card_says_so(tab):
    tab.evaluate("HTMLCanvasElement.prototype.getContext = () => null")
    words = tab.evaluate(
        """async () => { const { draw } = await import("./pictures/member.js"); const { pictureData } = await import("./data.js");
        const host = document.body.appendChild(document.createElement("div"));
        const data = await pictureData("member"), picture = draw(host, data); picture.update(data);
        return host.querySelector(".waiting").textContent; }"""
    )
    assert words == "This browser shows nothing in three dimensions."
