"""What the sweep prints for people: how far it is, the front as a table, and the recommended candidate."""

from __future__ import annotations

import sys

from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, TextColumn
from rich.progress import Progress as Bar
from rich.table import Table

from sparwright.sweep.model import Candidate, SweepResult
from sparwright.sweep.run import Progress

MOST_ROWS = 24
PIPE_WIDTH = 160  # characters of a table in a pipe, where nothing says how wide it is


class Meter:
    """A bar with the time left, on a terminal; silent in a pipe. Use it as a context."""

    def __init__(self, *, quiet: bool = False) -> None:
        console = Console(stderr=True, highlight=False)
        columns = (
            TextColumn("{task.description}"),
            BarColumn(),
            MofNCompleteColumn(),
            TextColumn("{task.fields[left]}"),
        )
        self._bar = Bar(*columns, console=console, disable=quiet or not console.is_terminal, transient=True)
        self._task = self._bar.add_task("candidates", total=None, left="")

    def __enter__(self) -> Meter:
        self._bar.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._bar.stop()

    def tell(self, p: Progress) -> None:
        """A candidate more is done."""
        self._bar.update(self._task, completed=p.done, total=p.total, left=time_left(p))

    def step(self, name: str) -> None:
        """A step that has no count begins."""
        self._bar.update(self._task, description=name, left="")


def time_left(p: Progress) -> str:
    """The time left in words."""
    if p.seconds_left is None:
        return "starting"
    if p.seconds_left < 60:
        return f"{p.seconds_left:.0f} s left"
    minutes = round(p.seconds_left / 60)
    return f"{minutes} min left" if minutes < 120 else f"{minutes / 60:.1f} h left"


def print_sweep(result: SweepResult, files: tuple[str, ...] = (), out: str | None = None) -> None:
    """The front, the recommended candidate with its reason, the notes, and where the papers are."""
    pipe = not sys.stdout.isatty()
    console = Console(highlight=False, soft_wrap=pipe, width=PIPE_WIDTH if pipe else None)
    by_key = {c.key: c for c in result.candidates}
    shown = _shown([by_key[key] for key in result.front], result)
    made = sum(c.figures is not None for c in result.candidates)
    console.print(
        f"{result.title}: {len(result.candidates)} candidates, {made} with figures, {len(result.front)} on the front"
        + (f", {result.resumed} from an earlier sweep" if result.resumed else ""),
        style="bold",
        markup=False,
    )
    if shown:
        console.print(_table(shown, result))
    if len(shown) < len(result.front):
        console.print(f"and {len(result.front) - len(shown)} more on the front", markup=False)
    chosen = result.chosen
    if chosen.candidate is not None:
        console.print(f"\nRecommended: {chosen.candidate.key}", style="bold", markup=False)
    console.print(chosen.reason, markup=False)
    for note in result.notes:
        console.print(note, markup=False)
    console.print(f"Seconds: {result.seconds:.1f}", markup=False)
    if out is not None:
        console.print(f"{', '.join(files)} in {out}", markup=False)


def _shown(front: list[Candidate], result: SweepResult) -> list[Candidate]:
    """At most MOST_ROWS of the front, evenly along it, the chosen one and both ends among them."""
    if len(front) <= MOST_ROWS:
        return front
    step = (len(front) - 1) / (MOST_ROWS - 2)
    places = {round(k * step) for k in range(MOST_ROWS - 1)}
    chosen = result.chosen.candidate
    return [c for i, c in enumerate(front) if i in places or (chosen is not None and c.key == chosen.key)]


def _table(front: list[Candidate], result: SweepResult) -> Table:
    """The front with what was varied and its figures; the recommended one is marked."""
    varied = list(dict.fromkeys((s.field, s.key) for c in front for s in c.change.settings))
    served = any(c.figures is not None and c.figures.tip_mm is not None for c in front)
    table = Table(show_edge=False)
    table.add_column("")
    fields = {field for field, _ in varied}
    for field, key in varied:
        table.add_column(key if len(fields) == 1 else f"{field}.{key}", justify="right")
    heads = ["mass out\nkg", "twist\nkept %", "bending\nkept %"]
    for head in [*heads, *(["tip\nmm", "first\nHz"] if served else []), "cutting\nmin", "by"]:
        table.add_column(head, justify="right")
    chosen = result.chosen.candidate
    for c in front:
        f = c.figures
        assert f is not None
        settings = {(s.field, s.key): s.text for s in c.change.settings}
        cells = [f"{f.mass_out_kg:.3f}", f"{100 * f.twist_kept:.1f}", f"{100 * f.bending_kept:.1f}"]
        if served:
            cells += [
                "" if f.tip_mm is None else f"{f.tip_mm:.4f}",
                "" if f.first_Hz is None else f"{f.first_Hz:.1f}",
            ]
        mark = ">" if chosen is not None and c.key == chosen.key else ""
        table.add_row(mark, *(settings.get(p, "") for p in varied), *cells, f"{f.minutes:.0f}", f.method)
    return table
