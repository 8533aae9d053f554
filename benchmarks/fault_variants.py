"""Good variants: the same motions said in other words. Nothing here may change what is cut by over 0.003 mm."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import numpy as np
from fault_job import Good

Draw = np.random.Generator
Change = Callable[[list[str], Draw], list[str]]
WORD = re.compile(r"([A-Z])(-?\d*\.?\d*)")
SEGMENT = 0.0008  # greatest sag of the chords that stand for an arc, mm


def split(line: str) -> list[tuple[str, str]]:
    """Letter and figure of every word of a plain line."""
    return [(m[1], m[2]) for m in WORD.finditer(line)]


def blanks_out(lines: list[str], rng: Draw) -> list[str]:
    return [t.replace(" ", "") for t in lines]


def blanks_in(lines: list[str], rng: Draw) -> list[str]:
    def spread(m: re.Match[str]) -> str:
        return (
            " " * int(rng.integers(0, 3))
            + m[1]
            + " " * int(rng.integers(0, 2))
            + m[2]
            + "\t" * int(rng.integers(0, 2))
        )

    return [WORD.sub(spread, t) for t in lines]


def small_letters(lines: list[str], rng: Draw) -> list[str]:
    return [t.lower() if rng.random() < 0.7 else t for t in lines]


def numbered(lines: list[str], rng: Draw) -> list[str]:
    step = min(int(rng.integers(1, 11)), 99_999 // len(lines))  # a line number has five digits at most
    return [f"N{step * i} {t}" for i, t in enumerate(lines, 1)]


def leading_noughts(lines: list[str], rng: Draw) -> list[str]:
    def pad(m: re.Match[str]) -> str:
        if m[1] in "GMT" and "." not in m[2]:
            return m[1] + m[2].zfill(2)
        sign = "-" if m[2].startswith("-") else "+" if rng.random() < 0.3 and m[1] in "XYZ" else ""
        return m[1] + sign + "0" * int(rng.integers(0, 3)) + m[2].lstrip("-")

    return [WORD.sub(pad, t) for t in lines]


def noughts_cut(lines: list[str], rng: Draw) -> list[str]:
    return [re.sub(r"(\.\d*?)0+(?=\s|$)", lambda m: m[1] if m[1] != "." else ".", t) for t in lines]


def comments(lines: list[str], rng: Draw) -> list[str]:
    said = ("(G0 Z-5 is not meant)", "(pocket 7)", "()", "(M5 and X900)")
    done = []
    for t in lines:
        if rng.random() < 0.2:
            done.append(f"(step {int(rng.integers(999))})")
        done.append(f"{t} {said[int(rng.integers(len(said)))]}" if rng.random() < 0.3 else t)
    return done


def empty_lines(lines: list[str], rng: Draw) -> list[str]:
    return [s for t in lines for s in ([t, ""] if rng.random() < 0.3 else [t])]


def per_cent(lines: list[str], rng: Draw) -> list[str]:
    return ["%", *lines, "%"]


def order_of_words(lines: list[str], rng: Draw) -> list[str]:
    done = []
    for t in lines:
        words = t.split(" ")
        rng.shuffle(words)
        done.append(" ".join(words))
    return done


def modal(lines: list[str], rng: Draw) -> list[str]:
    """Words that only repeat what holds are left out."""
    motion, feed, done = "", "", []
    for t in lines:
        words = split(t)
        if "G83" in t or "G80" in t or not re.match(r"G[0123] [XYZ]", t):
            motion = ""
            done.append(t)
            continue
        kept = []
        for letter, figure in words:
            if letter == "G" and figure == motion:
                continue
            if letter == "G":
                motion = figure
            if letter == "F":
                if figure == feed:
                    continue
                feed = figure
            kept.append(letter + figure)
        done.append(" ".join(kept))
    return done


def expressions(lines: list[str], rng: Draw) -> list[str]:
    def said(m: re.Match[str]) -> str:
        if rng.random() < 0.6:
            return m[0]
        part = round(float(rng.uniform(-5, 5)), 3)
        return f"{m[1]}[{float(m[2]) - part:.7f} + {part:.3f}]".replace("+ -", "- ")

    return [re.sub(r"([XYZ])(-?[\d.]+)", said, t) for t in lines]


def parameters(lines: list[str], rng: Draw) -> list[str]:
    done = []
    for t in lines:
        hit = re.search(r"X(-?[\d.]+)", t)
        if hit and rng.random() < 0.3:
            done += [f"#101={hit[1]}", t.replace(hit[0], "X#101")]
        else:
            done.append(t)
    return done


def inches(lines: list[str], rng: Draw) -> list[str]:
    def turn(m: re.Match[str]) -> str:
        return f"{m[1]}{float(m[2]) / 25.4:.7f}"

    return [re.sub(r"([XYZIJRQF])(-?[\d.]+)", turn, t).replace("G21", "G20") for t in lines]


def relative(lines: list[str], rng: Draw) -> list[str]:
    """Incremental from the first known place on; cycles stay absolute."""
    if any("G83" in t for t in lines):
        return lines
    at: dict[str, float] = {}
    done, on = [], False
    for t in lines:
        axes = {k: float(v) for k, v in split(t) if k in "XYZ"}
        if on and axes:
            t = re.sub(r"([XYZ])(-?[\d.]+)", lambda m, at=dict(at): f"{m[1]}{float(m[2]) - at[m[1]]:.6f}", t)
        at |= axes
        done.append(t)
        if not on and len(at) == 3:
            done.append("G91")
            on = True
    return done


def segments(lines: list[str], rng: Draw) -> list[str]:
    """Arcs as chords."""
    at = {"X": 0.0, "Y": 0.0, "Z": 0.0}
    done = []
    for t in lines:
        word = dict(split(t))
        if not re.match(r"G[23] ", t):
            at |= {k: float(v) for k, v in word.items() if k in "XYZ"}
            done.append(t)
            continue
        cx, cy = at["X"] + float(word["I"]), at["Y"] + float(word["J"])
        end = (float(word["X"]), float(word["Y"]), float(word.get("Z", at["Z"])))
        r = math.hypot(at["X"] - cx, at["Y"] - cy)
        a = math.atan2(at["Y"] - cy, at["X"] - cx)
        way = 1 if t.startswith("G3") else -1
        turn = way * (math.atan2(end[1] - cy, end[0] - cx) - a) % (2 * math.pi)
        count = max(2, math.ceil(turn / (2 * math.acos(1 - min(SEGMENT / r, 1.0)))))
        for k in range(1, count + 1):
            b = a + way * turn * k / count
            x, y = (cx + r * math.cos(b), cy + r * math.sin(b)) if k < count else end[:2]
            z = at["Z"] + (end[2] - at["Z"]) * k / count
            done.append(f"G1 X{x:.4f} Y{y:.4f} Z{z:.4f} F{word['F']}")
        at = dict(zip("XYZ", end, strict=True))
    return done


def by_radius(lines: list[str], rng: Draw) -> list[str]:
    """Arcs clearly under half a turn by their radius."""
    at = {"X": 0.0, "Y": 0.0}
    done = []
    for t in lines:
        word = dict(split(t))
        if re.match(r"G[23] ", t):
            chord = math.hypot(float(word["X"]) - at["X"], float(word["Y"]) - at["Y"])
            radius = math.hypot(float(word["I"]), float(word["J"]))
            if chord < 1.8 * radius:
                t = re.sub(r"I-?[\d.]+ J-?[\d.]+", f"R{radius:.4f}", t)
        at |= {k: float(v) for k, v in word.items() if k in "XY"}
        done.append(t)
    return done


GEOMETRY: tuple[Change, ...] = (segments, by_radius, relative, inches)
WORDING: tuple[Change, ...] = (modal, order_of_words, expressions, parameters, leading_noughts, noughts_cut)
LOOKS: tuple[Change, ...] = (
    comments, blanks_in, blanks_out, small_letters, numbered, empty_lines, per_cent,
)  # fmt: skip
AGAINST = (
    {order_of_words, modal}, {segments, by_radius}, {blanks_in, leading_noughts}, {expressions, blanks_in},
    {expressions, leading_noughts}, {parameters, leading_noughts}, {parameters, blanks_in}, {comments, blanks_out},
    {comments, small_letters}, {comments, blanks_in}, {parameters, expressions}, {noughts_cut, expressions},
    {noughts_cut, leading_noughts}, {order_of_words, numbered},
)  # fmt: skip


def vary(good: Good, rng: Draw) -> tuple[Good, str]:
    """A good variant by one to four changes at random, in an order in which they go together; and their names."""
    chosen: list[Change] = []
    for change in (*GEOMETRY, *WORDING, *LOOKS):
        clash = any(change in pair and pair & set(chosen) for pair in AGAINST)
        if not clash and len(chosen) < 4 and rng.random() < 0.22:
            chosen.append(change)
    if not chosen:
        chosen = [(*GEOMETRY, *WORDING, *LOOKS)[int(rng.integers(len(GEOMETRY) + len(WORDING) + len(LOOKS)))]]
    done = good
    for name, _ in good.programs:
        lines = good.lines(name)
        for change in chosen:
            lines = change(lines, rng)
        done = done.put(name, lines)
    return done, ", ".join(c.__name__ for c in chosen)
