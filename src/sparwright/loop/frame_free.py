"""Why a machine is a mechanism, in plain words: which node can move, and in which direction."""

from __future__ import annotations

import numpy as np

from sparwright.loop.frame_build import Built

WORDS = ("move along x", "move along y", "move along z", "turn about x", "turn about y", "turn about z")


def free_motion(built: Built, scaled: np.ndarray, scale: np.ndarray, loose: float) -> str:
    """The message for a stiffness `scaled` (to ones on its diagonal) that holds some motion of q = scale * v not.

    A motion along or about one axis at a node is told where the free motions hold one; else the direction.
    """
    values, vectors = np.linalg.eigh(scaled)
    # The least one at least: where inverse iteration and this differ about what is loose, it is the culprit.
    count = max(1, int((values < 10 * loose).sum()))
    moves = np.asarray(built.T @ (vectors[:, :count] * scale[:, None])).reshape(-1, 6, count)
    moves = moves[: len(built.index)]  # named nodes come first
    size = max(1.0, float(np.ptp(built.places, axis=0).max()))
    weigh = np.array([1.0] * 3 + [size] * 3)
    moves = moves * weigh[:, None] / max(1e-300, float(np.abs(moves * weigh[:, None]).max()))
    where, words = _simplest(list(built.index), moves) or _greatest(list(built.index), moves, weigh)
    more = (
        f"; {count - 1} more motions are free"
        if count > 2
        else "; one more motion is free"
        if count == 2
        else ""
    )
    return (
        f'the machine is a mechanism: node "{where}" is free to {words}{more}. '
        "Hold that node, tie it to another part, or give a spring there a stiffness in that direction"
    )


def _simplest(names: list[str], moves: np.ndarray) -> tuple[str, str] | None:
    """The node and axis, among those the free motions can give alone, that takes the fewest other nodes along."""
    best: tuple[float, str, str] | None = None
    for i, name in enumerate(names):
        own = moves[i]
        if np.linalg.norm(own) < 1e-6:
            continue
        back = np.linalg.pinv(own, rcond=1e-6)
        for axis in range(6):
            share = back[:, axis]
            reached = own @ share
            reached[axis] -= 1.0
            if np.abs(reached).max() < 1e-4:
                whole = float(np.linalg.norm(moves @ share))
                if best is None or whole < best[0] * (1 - 1e-6):
                    best = (whole, name, WORDS[axis])
    return best[1:] if best else None


def _greatest(names: list[str], moves: np.ndarray, weigh: np.ndarray) -> tuple[str, str]:
    """The node that moves most in the first free motion, and the direction it takes."""
    first = moves[:, :, 0]
    i = int(np.abs(first).max(axis=1).argmax())
    shift, turn = first[i, :3], first[i, 3:] / weigh[3:]
    if np.abs(shift).max() >= np.abs(turn * weigh[3:]).max():
        direction, word = shift, "move along"
    else:
        direction, word = turn, "turn about"
    unit = direction / np.linalg.norm(direction)
    return names[i], f"{word} ({', '.join(f'{c:.2f}' for c in unit)})"
