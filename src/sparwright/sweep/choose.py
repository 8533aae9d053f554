"""The recommended candidate: which, why, and whether the bay agrees."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from sparwright.sweep.front import SAID, SENSE, value_of
from sparwright.sweep.model import Candidate, Chosen, Figures

TIE = 0.001  # kg: masses nearer than a kitchen scale tells apart are equal, and fewer minutes decide
TRIES = 4  # candidates the bay is asked about
Confirm = Callable[[Candidate], Candidate]


def margin(figures: Figures, goal: str, wish: float, *, sure: bool) -> float:
    """By how much a figure is on the good side of a wish, as a share of the wish; below zero it misses.

    sure: with the figure moved to the bad end of the model's spread.
    """
    value = value_of(figures, goal)
    if sure:
        value *= 1 - SENSE[goal] * figures.spread_of(goal)
    return SENSE[goal] * (value / wish - 1)


def ranked(candidates: Sequence[Candidate], wishes: dict[str, float]) -> tuple[Candidate, ...]:
    """The candidates from the most to the least recommended.

    First those that meet every wish with the model's spread to spare, then those that meet them on its middle
    value, by mass out (where only mass is wished: by what is kept of twist and bending) and then by minutes;
    then the others by their worst miss.
    """

    def rank(c: Candidate) -> tuple[float, ...]:
        f = c.figures
        assert f is not None
        least = min(margin(f, g, w, sure=False) for g, w in wishes.items())
        surely = min(margin(f, g, w, sure=True) for g, w in wishes.items())
        if least < 0:
            return (2, -least, f.minutes)
        if set(wishes) == {"mass_out_kg"}:
            return (float(surely < 0), -min(f.twist_kept, f.bending_kept), f.minutes)
        return (float(surely < 0), -round(f.mass_out_kg / TIE), f.minutes)

    return tuple(sorted((c for c in candidates if c.figures is not None), key=rank))


def choose(
    candidates: Sequence[Candidate],
    wishes: dict[str, float],
    confirm: Confirm | None = None,
    tries: int = TRIES,
) -> Chosen:
    """The candidate to take for the wishes, with the reason in a sentence.

    confirm: evaluates a candidate's change again by the bay; where the bay finds a wish missed, or fails, the next is
    tried, `tries` in all. Where none meets every wish the nearest is given with what it misses, and not confirmed.
    """
    if not any(c.figures is not None for c in candidates):
        return Chosen(None, "Every candidate is left out, so there is nothing to recommend.")
    if not wishes:
        return Chosen(
            None,
            "The job states no wishes, so none is recommended; say under [wishes] what must be kept or taken out.",
        )
    order = ranked(candidates, wishes)
    able = [c for c in order if not missed(c.figures, wishes)]
    if not able:
        nearest = order[0]
        misses = missed(nearest.figures, wishes)
        why = f"None of the {len(order)} candidates meets every wish; this one misses least: {'; '.join(misses)}."
        return Chosen(nearest, why, misses)
    reasons = [_why(c, able, order, wishes) for c in able[:tries]]
    if confirm is None:
        return Chosen(able[0], reasons[0])
    return _confirmed(able[:tries], reasons, wishes, confirm)


def _confirmed(
    able: Sequence[Candidate], why: Sequence[str], wishes: dict[str, float], confirm: Confirm
) -> Chosen:
    denied: list[tuple[str, str]] = []
    first: Figures | None = None
    for candidate, reason in zip(able, why, strict=True):
        found = confirm(candidate)
        first = first or found.figures
        if found.figures is None:
            denied.append((candidate.key, f"the bay could not be computed: {found.left_out}"))
        elif misses := missed(found.figures, wishes):
            denied.append((candidate.key, f"by the bay it misses: {'; '.join(misses)}"))
        else:
            before = (
                f" {_counted(len(denied)).capitalize()} before it {'was' if len(denied) == 1 else 'were'} denied by the bay."
                if denied
                else ""
            )
            return Chosen(
                candidate, f"{reason} The bay confirms it.{before}", (), True, found.figures, tuple(denied)
            )
    tail = f"The bay confirms none of the first {len(denied)}: {denied[0][1]}."
    return Chosen(able[0], f"{why[0]} {tail}", (), False, first, tuple(denied))


def missed(figures: Figures | None, wishes: dict[str, float]) -> tuple[str, ...]:
    """What a candidate misses of the wishes, each in words."""
    if figures is None:
        return ()
    return tuple(
        f"{SAID[goal][0]} {said(goal, value_of(figures, goal))} where {said(goal, wish)} is wished"
        for goal, wish in wishes.items()
        if margin(figures, goal, wish, sure=False) < 0
    )


def said(goal: str, value: float) -> str:
    """A figure as people read it: 45.2 %, 0.412 kg."""
    unit = SAID[goal][1]
    if unit == "%":
        return f"{100 * value:.1f} %"
    return f"{value:.3f} kg" if unit == "kg" else f"{value:.4g} {unit}"


def _why(
    chosen: Candidate, able: Sequence[Candidate], order: Sequence[Candidate], wishes: dict[str, float]
) -> str:
    f = chosen.figures
    assert f is not None
    place = able.index(chosen)
    rest = "" if place == 0 else f", after {_counted(place)} before it"
    group = f"Of {len(order)} candidates {len(able)} meet{'s' if len(able) == 1 else ''} every wish"
    sure = sum(_surely(c, wishes) for c in able)
    if 0 < sure < len(able):
        group += f", {sure} of them with the model's spread to spare"
    those = " of these" if 0 < sure < len(able) and _surely(chosen, wishes) else ""
    if set(wishes) == {"mass_out_kg"}:
        best = f"this one keeps the most of twist and bending{those}{rest}, {said('twist_kept', f.twist_kept)} and {said('bending_kept', f.bending_kept)}"
    else:
        best = f"this one takes out the most{those}{rest}, {said('mass_out_kg', f.mass_out_kg)}, in {said('minutes', f.minutes)}"
    goal, wish = min(wishes.items(), key=lambda item: margin(f, *item, sure=False))
    close = (
        f"nearest to its limit is {SAID[goal][0]}, {said(goal, value_of(f, goal))} against {said(goal, wish)}"
    )
    thin = "" if _surely(chosen, wishes) else ", which is within the spread of the model"
    return f"{group}; {best}; {close}{thin}."


def _surely(candidate: Candidate, wishes: dict[str, float]) -> bool:
    """Whether a candidate meets every wish at the bad end of the model's spread too."""
    f = candidate.figures
    return f is not None and all(margin(f, g, w, sure=True) >= 0 for g, w in wishes.items())


def _counted(number: int) -> str:
    return "one candidate" if number == 1 else f"{number} candidates"
