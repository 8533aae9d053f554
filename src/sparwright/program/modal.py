"""Which words may stand together on a line: NIST IR 6556, table 4 and sections 3.4 to 3.6."""

from __future__ import annotations

from sparwright.program.expressions import LineError, number_text
from sparwright.program.words import Block, g_name

MOTION = {0, 10, 20, 30, 382, *range(800, 900, 10)}
CYCLES = {810, 820, 830, 840, 850, 860, 870, 880, 890}
SYSTEMS = {540: 1, 550: 2, 560: 3, 570: 4, 580: 5, 590: 6, 591: 7, 592: 8, 593: 9}
AXIS_USERS = {100, 280, 300, 920}  # of the words in force for one line only, those that take X, Y, Z

G_GROUPS: dict[str, set[int]] = {
    "motion": MOTION,
    "plane": {170, 180, 190},
    "distance": {900, 910},
    "feed mode": {930, 940},
    "units": {200, 210},
    "cutter compensation": {400, 410, 420},
    "tool length": {430, 490},
    "cycle return": {980, 990},
    "coordinate system": set(SYSTEMS),
    "path control": {610, 611, 640},
    "one line only": {40, 100, 280, 300, 530, 920, 921, 922, 923},
}
M_GROUPS: dict[str, set[int]] = {
    "stopping": {0, 1, 2, 30, 60},
    "tool change": {6},
    "spindle": {3, 4, 5},
    "coolant": {7, 8, 9},
    "override": {48, 49},
}
_G_GROUP = {word: name for name, words in G_GROUPS.items() for word in words}
_M_GROUP = {word: name for name, words in M_GROUPS.items() for word in words}


def group_words(block: Block) -> tuple[dict[str, int], dict[str, int]]:
    """The line's G words and M words by modal group.

    Raises LineError for a word that does not exist, two words of one group, cutter compensation, or words
    that want the same axis words.
    """
    g: dict[str, int] = {}
    for word in block.g:
        name = _G_GROUP.get(word)
        if name is None:
            raise LineError(f"{g_name(word)} is not a G word of NIST IR 6556")
        if name in g:
            raise LineError(
                f"{g_name(g[name])} and {g_name(word)} on one line: two words of one group ({name})"
            )
        g[name] = word
    m: dict[str, int] = {}
    for word in block.m:
        name = _M_GROUP.get(word)
        if name is None:
            raise LineError(f"M{word} is not an M word of NIST IR 6556")
        if name in m and {m[name], word} != {7, 8}:
            raise LineError(f"M{m[name]} and M{word} on one line: two words of one group ({name})")
        m[name] = word
    if g.get("cutter compensation") in (410, 420):
        raise LineError(
            f"{g_name(g['cutter compensation'])}: cutter compensation is refused, since the path then hangs on a "
            "diameter that is not in the program; write the path of the cutter's centre and G40"
        )
    return g, m


def motion_of(block: Block, g: dict[str, int], in_force: int) -> int | None:
    """The motion word the line's axis words obey, None where the line makes no motion.

    in_force: motion word in force before the line. Raises LineError where axis words are missing, not wanted, or wanted twice.
    """
    axes = [letter for letter in "xyz" if letter in block.values]
    passed = next((word for word in block.passed if word[0] == "G"), None)
    if passed and axes:
        raise LineError(
            f"{passed} is passed over, but {axes[0].upper()} on its line would then move as another word says"
        )
    once = g.get("one line only")
    motion = g.get("motion")
    if once in AXIS_USERS:
        if motion is not None and motion != 800:
            raise LineError(f"{g_name(motion)} and {g_name(once)} on one line: both take X, Y and Z")
        if once == 920 and not axes:
            raise LineError("G92 needs X, Y or Z")
        return None
    if once == 530 and not axes:
        raise LineError("G53 needs X, Y or Z")
    if motion == 800 or (motion is None and in_force == 800):
        if axes:
            raise LineError(
                f"{axes[0].upper()} without a motion: G80 is in force; say G0, G1, G2, G3 or a canned cycle"
            )
        return None
    if motion is None:
        return in_force if axes else None
    if not axes:
        raise LineError(f"{g_name(motion)} needs X, Y or Z")
    return motion


_USERS = {
    "d": "G41 or G42",
    "h": "G43",
    "i": "G2, G3 or G87",
    "j": "G2, G3 or G87",
    "k": "G2, G3 or G87",
    "l": "G10 or a canned cycle",
    "p": "G4, G10, G82, G86, G88 or G89",
    "q": "G83",
    "r": "G2, G3 or a canned cycle",
}


def refuse_unused(block: Block, g: dict[str, int], motion: int | None) -> None:
    """Raise LineError for a word that nothing on the line uses.

    On a line with a G or M word that is passed over, such words go with it: they are left out too.
    """
    once = g.get("one line only")
    used = set("xyzfst")
    if once == 40:
        used.add("p")
    if once == 100:
        used |= {"p", "l"}
    if g.get("tool length") == 430:
        used.add("h")
    if motion in (20, 30):
        used |= set("ijkr")
    if motion in CYCLES:
        used |= {"l", "r"}
    if motion in (820, 860, 880, 890):
        used.add("p")
    if motion == 830:
        used.add("q")
    if motion == 870:
        used |= set("ijk")
    unused = [letter for letter in block.values if letter not in used]
    if not unused:
        return
    letter = unused[0]
    if not any(word[0] in "GM" for word in block.passed):
        raise LineError(f"{letter.upper()} is not used on this line; it goes with {_USERS[letter]}")
    for letter in unused:
        block.passed.append(f"{letter.upper()}{number_text(block.values.pop(letter))}")
