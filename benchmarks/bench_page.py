"""The job page in a browser without a window: command to first figures and three dimensions, a slider's figures.

    python benchmarks/bench_page.py [--moves 60]

Needs chromium and playwright (the test requirements). The page is started once before it is measured, so that the files
are in memory. A slider's time runs from the input event to the frame after the figure has changed on the page; beside
it stands the time of the same figures in this process, without page, server or browser.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from sparwright.job.reading import load_job
from sparwright.page.quick import quick_mass, quick_stiffness
from sparwright.stock.member import build_member

EXAMPLE = Path(__file__).parents[1] / "examples" / "bridge-beam"
FLAGS = [
    *("--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"),
    *("--disable-gpu-compositing", "--disable-gpu-rasterization"),
]
"""There is no graphics card: three dimensions are drawn by software, and what is flat without going through it."""
MOVE = """async ([value, name]) => {
  const slider = document.querySelector('[aria-label="isogrid: skin, slider"]');
  const row = () => [...document.querySelectorAll('.band:first-of-type .findings tbody tr')]
    .find((r) => r.querySelector('th').firstChild.textContent === name)?.querySelector('td.figure')?.textContent;
  const before = row();
  const start = performance.now();
  slider.value = value;
  slider.dispatchEvent(new Event('input'));
  while (row() === before && performance.now() - start < 5000) await new Promise(requestAnimationFrame);
  await new Promise(requestAnimationFrame);
  return performance.now() - start;
}"""


def started(job: Path) -> tuple[subprocess.Popen[str], str, float]:
    """The page's process, its address, and the moment the command was given.

    Modules are kept compiled beside the job, whatever this shell says of that, so that the second start is a warm one.
    """
    environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    environment["PYTHONPYCACHEPREFIX"] = str(job.parent.parent / "compiled")
    start = time.perf_counter()
    command = [sys.executable, "-m", "sparwright.cli", "page", str(job), "--no-open"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, env=environment)
    assert process.stdout is not None
    found = re.search(r"http://\S+", process.stdout.readline())
    assert found
    return process, found.group(), start


def opened(tab: Page, address: str, start: float) -> None:
    """Print the times from the command to the first band, the first figure, three dimensions."""
    tab.goto(address, wait_until="commit")
    tab.wait_for_selector(".band")
    print(f"command to the six questions on screen  {time.perf_counter() - start:6.2f} s")
    tab.wait_for_selector(".band[data-status=fresh]")
    print(f"command to the first answer             {time.perf_counter() - start:6.2f} s")
    tab.locator(".band button").first.click()
    tab.wait_for_selector("figure[data-picture=member] canvas[data-drawn]")
    print(f"command to the member in 3-D            {time.perf_counter() - start:6.2f} s")


def moved(tab: Page, moves: int) -> None:
    """Print the times of a slider's first and later figures, each move by itself; at last beside a whole plan under way."""
    tab.get_by_role("button", name="Stop").click(timeout=20_000)
    for name in ("mass out", "twist kept"):
        _slid(tab, name, moves)
    tab.get_by_role("button", name="Work out the whole plan").click()
    tab.get_by_role("button", name="Stop").wait_for()
    tab.wait_for_timeout(1000)  # its processes have begun
    for name in ("mass out", "twist kept"):
        _slid(tab, name, min(moves, 5), "beside the plan")
    assert "Working out" in tab.locator("#work").inner_text(), "the plan came to its end meanwhile"


def _slid(tab: Page, name: str, moves: int, where: str = "") -> None:
    """Print the times of moves of the slider until a figure has changed."""
    times = []
    for k in range(moves):
        value = 0.6 + 0.1 * (k * 7 % 23)
        times.append(tab.evaluate(MOVE, [value, name]))
        tab.wait_for_timeout(400)
    times.sort()
    print(
        f"slider to {name:12} {statistics.median(times):6.0f} ms median, "
        f"{times[int(0.95 * (len(times) - 1))]:6.0f} ms at the 95th percentile, {moves} moves {where}"
    )


def by_themselves() -> None:
    """Print what the same figures take without a page, and what no page can do without."""
    job = load_job(EXAMPLE / "job.toml")
    quick_stiffness(job, build_member(job))
    field = job.file.field[0]
    mass, whole = [], []
    for k in range(12):
        changed = field.model_copy(update={"skin": 0.65 + 0.1 * k})
        other = job.model_copy(update={"file": job.file.model_copy(update={"field": (changed,)})})
        start = time.perf_counter()
        member = build_member(other)
        quick_mass(other, member)
        mass.append(1000 * (time.perf_counter() - start))
        quick_stiffness(other, member)
        whole.append(1000 * (time.perf_counter() - start))
    print(f"by themselves: mass {statistics.median(mass):.0f} ms, all {statistics.median(whole):.0f} ms")
    start = time.perf_counter()
    subprocess.run([sys.executable, "-c", "import uvicorn, starlette.applications, uvicorn.main"], check=True)
    print(
        f"Python begun and the server's libraries loaded, nothing else: {time.perf_counter() - start:.2f} s"
    )


def main() -> None:
    """Run it all on a copy of the demo job."""
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--moves", type=int, default=60)
    moves = options.parse_args().moves
    by_themselves()
    with tempfile.TemporaryDirectory() as name, sync_playwright() as playwright:
        folder = Path(name) / "job"
        shutil.copytree(EXAMPLE, folder)
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        browser.new_page().goto("about:blank")
        for measured in (False, True):
            process, address, start = started(folder / "job.toml")
            tab = browser.new_page(viewport={"width": 1280, "height": 900})
            try:
                if measured:
                    opened(tab, address, start)
                    moved(tab, moves)
                else:
                    tab.goto(address)
                    tab.wait_for_selector(".band[data-status=fresh]")
            finally:
                process.terminate()
                process.wait()
        browser.close()


if __name__ == "__main__":
    main()
