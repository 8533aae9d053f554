"""Every kind of finding a proof can make: when it is no-go, what it means to the part, and what to do about it.

The table of docs/proof.md is printed from here (`python -m sparwright.proof.kinds`), and every finding takes its
margin from here.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from sparwright.answers import Verdict
from sparwright.job.models import Cutting
from sparwright.proof.model import ProofFinding

EDGE_TOLERANCE = 0.1  # of an edge break's width, mm: common practice, no source
VOLUME_SHARE = 0.01  # metal cut away may differ from the design's by this share before it is worth a word

Sense = Literal["", "most", "least", "size", "wanted", "past"]


@dataclass(frozen=True)
class Kind:
    """A kind of finding.

    when: what makes it no-go (or a caution, where it says so). limit: where the limit comes from. means: what it
    does to part, cutter or machine. cure: what to do. sense: how the value stands to the limit where it is at fault:
    at most, at least, its size at most, as wanted within the tolerance of that name in the job's cutting table, or past
    one of two limits.
    good: the same for the finding that says all is well.
    """

    name: str
    when: str
    limit: str
    means: str
    cure: str
    sense: Sense = ""
    good: Sense = "size"
    tolerance: str = ""


KINDS = (
    Kind(
        "reading", "a line cannot be read", "the reader",
        "The controller may stop there, or take the line otherwise than it was meant; its motion is left out here.",
        "Write the line so that it can be read in one way only; the message says what is wrong with it.",
    ),
    Kind(
        "passed over", "(caution) a word is left out that `controller.passes_over` names", "the bed's file",
        "The proof does not know what that word does at the machine; what it moves or switches is not looked at.",
        "Look the word up in the machine's own manual, or take it out of the program.",
    ),
    Kind(
        "work zero", "the zero is shifted (G55 to G59.3, G10, G92)", "one zero a side",
        "Everything after it is cut beside its place by the shift.",
        "Take the shift out; the setup sheet sets one zero, G54, for the whole side.",
    ),
    Kind(
        "machine place",
        "G28 or G30 begins lower than everything that stands on the bed; (caution) G28, G30 or G53 at all",
        "clamps' tops, `cutting.clearance`",
        "Only the machine knows where that place lies, and it goes there straight, through whatever stands between.",
        "Raise Z in work coordinates first, or do without.",
        "least",
        "least",
    ),
    Kind(
        "modes", "(caution) G54 or G90 is not stated before the first motion", "",
        "What the program before left in force decides where this one cuts.",
        "Open the program with G21 G90 G17 G94 G54.",
    ),
    Kind(
        "units", "no unit before the first motion; inches that lead out of the reach", "",
        "Figures meant as millimetres and taken as inches make moves 25.4 times as long.",
        "Open the program with G21, or G20 where its figures are inches.",
        "most",
    ),
    Kind(
        "cutter", "a cut with no T word, or one the job does not list", "cutters file",
        "Nobody can say what the cut leaves.", "Write the T word of a listed cutter before the cut.",
    ),
    Kind(
        "tool length", "a cut with the length (G43 H) of another cutter, or with none where others have theirs",
        "the program", "Every depth is off by the difference of two cutters' lengths: through the part, or in the air.",
        "Write G43 with the H of the cutter in the spindle after every change.",
    ),
    Kind(
        "tool change", "a change of cutter lower than the clearance", "job, `cutting.clearance`",
        "A hand or a changer pulls the cutter out of the metal sideways.", "Raise Z before the change.",
        "least", "least",
    ),
    Kind(
        "spindle", "a feed motion with the spindle off or turning backward", "",
        "The cutter is pushed into the metal without cutting, and breaks.", "Start it (M3 and S) before the first feed motion.",
    ),
    Kind(
        "spindle speed", "outside the spindle's speeds", "bed file",
        "The spindle runs at another speed than the feed was reckoned for.", "Write an S word the spindle can turn.",
        "past",
    ),
    Kind(
        "feed", "no feed set; an axis asked for more than it feeds", "bed file",
        "The controller stops, or the axis slows down or loses steps, and the cut is off its place from there.",
        "Write an F word the slowest axis of the move can follow.", "most",
    ),
    Kind(
        "reach", "the tip leaves the travel in X or Y, or in Z by the nose and the cutter's stick-out", "bed file",
        "The axis runs against its stop and loses its place.", "Move the work on the bed, or shorten the move.",
        "most", "least",
    ),
    Kind(
        "throat", "the member stands in the way of the bridge's uprights where the program takes them", "bed file",
        "The bridge runs into the member.", "Turn or shift the member, or cut it in stations.", "least", "least",
    ),
    Kind(
        "program start", "sideways before Z has been raised, or down first", "",
        "The spindle may stand anywhere, in a clamp's way too.", "Begin with a rapid to the safe height alone.",
    ),
    Kind(
        "program end", "no M2 or M30; ends lower than the clearance", "job, `cutting.clearance`",
        "Nothing stops the spindle, or the cutter is left in the metal.", "End with Z raised, M5 and M30.", "least",
    ),
    Kind(
        "clearance height", "(caution) a rapid runs sideways lower than the clearance", "job, `cutting.clearance`",
        "A chip, a burr or a screw's head stands in the way of a rapid.", "Raise the rapid to the clearance.", "least", "least",
    ),
    Kind(
        "clamp", "cutter, shank or holder runs in, at feed or rapid (caution: passes by under 1 mm)", "setup",
        "Cutter and clamp are lost, and the member moves.", "Lift the move over the clamp, or move the clamp.", "most",
    ),
    Kind(
        "pad", "the same; (caution) within the break-through planned for", "setup, `cutting.break_through`",
        "The slot that locates the member is spoilt for the sides that follow.", "Lift the move, or keep it within the slot.",
        "most",
    ),
    Kind(
        "bed", "the tip goes below the bed's surface", "setup", "The cutter is driven into the table.",
        "Cut no deeper than the pads' underside; the message says at which Z the bed lies.", "most",
    ),
    Kind(
        "rapid", "metal stands in the way of a rapid", "", "The cutter breaks, or the member is torn out of its slot.",
        "Raise the cutter first, or feed there.", "most",
    ),
    Kind(
        "plunge", "straight down into metal, or at over 15 degrees, with a cutter that does not cut to its centre",
        "cutters file",
        "The middle of the cutter rubs; it burns or breaks.", "Enter by a ramp or a helix.", "most",
    ),
    Kind(
        "shank", "metal stands where the shank passes", "cutters file", "The shank rubs: heat, chatter, a mark on the wall.",
        "Use a cutter with longer flutes, or clear the metal above first.", "most",
    ),
    Kind(
        "holder", "metal stands where the holder passes", "cutters file", "The nut hits the member.",
        "Set the cutter out further, or use a longer one.", "most",
    ),
    Kind(
        "depth of cut", "metal met deeper than the flutes are long", "cutters file",
        "The shank is forced through metal the flutes have not reached.", "Take it in more passes, or use longer flutes.",
        "most",
    ),
    Kind(
        "chip", "the chip is over 2 times the cutter's chip load (caution: 1.5)", "cutters file",
        "The cutter is loaded past what its maker allows; thin ones snap.", "Lower the feed, or raise the speed.", "most",
    ),
    Kind(
        "force", "the greatest force on a tooth, as met, snaps the cutter in bending (caution: 0.8 of that)",
        "cutters file; 2000 MPa in carbide, the middle of what is measured",
        "The cutter snaps at the root of its flutes.", "Lower the feed or the depth, or set the cutter out less.", "most",
    ),
    Kind(
        "power", "the power at the cutter, as met, is over the spindle's (caution: 0.8 of it)", "bed file",
        "The spindle slows down, chips thicken, and it stalls in the metal.", "Lower the feed or the depth.", "most",
    ),
    Kind(
        "deflection", "(caution) the cutter bends by over 0.2 mm", "common practice",
        "Walls come out leaning, and the cutter chatters.", "Lower the feed or the depth, or set the cutter out less.", "most",
    ),
    Kind(
        "skin", "the skin under a pocket is off its thickness anywhere", "job, `cutting.floor_tolerance`",
        "Too thin: it buckles and drums, and metal cannot be put back. Too thick: weight that was to go.",
        "Raise or lower the pass the message names by as much.", "wanted", tolerance="floor_tolerance",
    ),
    Kind(
        "floor", "a floor off its depth anywhere; metal left in a through cut", "the same",
        "What is to lie in it stands too high or too low, or the window does not open.", "Raise or lower that pass by as much.",
        "wanted", tolerance="floor_tolerance",
    ),
    Kind(
        "hole depth", "a hole off its depth, or not through", "the same",
        "Screw or pin does not go in as far as it should, or the far side is marked.", "Change the depth of the hole by as much.",
        "wanted", tolerance="floor_tolerance",
    ),
    Kind(
        "gouge", "metal cut where no feature is, or under one", "the same", "Metal that is to carry load is gone for good.",
        "Correct the move the message names.", "most",
    ),
    Kind(
        "wall", "a wall off its place anywhere", "job, `cutting.wall_tolerance`",
        "Negative: cut into the wall. Positive: metal left on it. A wall between two pockets may be thinner than it seems.",
        "Correct the path; where it is off by half the difference of two cutters, the wrong one was called.", "size",
    ),
    Kind(
        "hole size", "a round hole off its diameter, by least squares round its wall", "the same",
        "The screw rattles, or does not enter.", "Check the cutter's diameter and the path's radius.", "wanted",
        tolerance="wall_tolerance",
    ),
    Kind(
        "hole place", "a round hole off its place", "the same", "Parts that meet on it do not line up.",
        "Shift the path back by the figures given.", "most",
    ),
    Kind(
        "edge break", "off its width by more than 0.1 mm", "common practice", "A sharp edge cuts hands and starts cracks; too wide a one eats the wall.",
        "Set the vee cutter higher or lower by as much.", "wanted",
    ),
    Kind(
        "not cut", "a feature is never cut", "the member", "The part is not finished when the programs are.",
        "Add the missing program, or check side and zero.",
    ),
    Kind(
        "wrong side", "a program cuts where the features of another side are, or of this one turned end for end",
        "the member", "The features of one side are cut into another.",
        "Run it on the side it is for; turn the member round if it lies end for end.", "most",
    ),
    Kind(
        "between sides",
        "less metal left between this side's cuts and another side's features than the design leaves; (sides together) less between the cuts of two sides",
        "the design, less two `cutting.floor_tolerance`; (sides together) less one", "Two floors or holes come too near, or meet inside the member.",
        "Raise the cut the message names.", "least", "least",
    ),
    Kind(
        "sides meet", "(sides together) a cut of one side breaks into one of another where the design has metal",
        "the design", "The wall or floor between them is gone, and two pockets are one.",
        "Raise the cut the message names; see that no side's programs were swapped.",
    ),
    Kind(
        "holes in line", "(sides together) the axes of holes that share one by design are off one another",
        "job, `cutting.wall_tolerance`", "A bolt or shaft that is to go through both binds, or does not enter.",
        "Shift the path of the hole the message names first.", "most",
    ),
    Kind(
        "loose piece", "a piece of metal is cut free and hangs on nothing, at the end or until a later cut takes it away", "", "It is caught by the cutter and thrown, or jams it.",
        "Leave tabs, or clear the piece away in full, from its middle outward.", "most",
    ),
    Kind(
        "tabs", "a tab tears off under less than twice the cutter's force; (caution) a piece is left hanging on tabs at all",
        "force as met, tensile strength of the stock", "The piece stays until it is sawn out; one that tears off is thrown.",
        "Tape or clamp it before the last pass, saw the tabs and file them flush; where they are weak make them wider or thicker.",
        "least", "least",
    ),
    Kind(
        "metal removed", "(caution) over 1 % more or less than the design takes out", "the design",
        "Something is cut that no other check puts a name to.", "Look at the map of what is left.", "wanted", "wanted",
    ),
)  # fmt: skip

PROVER = (
    Kind(
        "second way", "simulation and plane geometry disagree on a level cut", "none",
        "The program that proves is at fault, not the programs proved.", "Do not trust this proof, and report it.", "most",
    ),
)  # fmt: skip
"""Kinds that tell of the proof itself."""

ELSEWHERE = (
    Kind(
        "cut too deep", "metal of the part (an STL) is cut", "job, `cutting.floor_tolerance`, `cutting.wall_tolerance`",
        "Metal that is to stay is gone for good.", "Raise or move the cut the message names.", "most",
    ),
    Kind(
        "metal left", "metal stands on the part's surface", "the same, or what is to be left on it",
        "The part is not finished when the programs are.", "Add the cut, or carry the nearest one on.", "most",
    ),
    Kind(
        "part size", "(caution) the part is far smaller than the stock, by just the ratio of two units", "",
        "It was drawn in another unit.", "State the part's units in the case file.",
    ),
    Kind(
        "underside", "(caution) a cut goes past the stock's underside, and what lies there is not known", "the stock",
        "The cutter meets whatever carries the stock.", "State the stock's height over the bed, or cut less deep.", "most",
    ),
    Kind(
        "not judged", "(caution) something is not known", "the case file",
        "A proof says nothing of what it was not told.", "State it in the case file.",
    ),
)  # fmt: skip
"""Kinds met only where programs come with a case file and not with a job."""

SUMMARIES = {
    "touch": ("rapid", "plunge", "shank", "holder"),
    "obstacles": ("clamp", "pad", "bed"),
    "extents": (),
    "engagement": (),
    "depth": (),
}
"""Findings that are never but good: what several kinds say together where none finds anything, and plain facts."""

BY_NAME = {kind.name: kind for kind in (*KINDS, *PROVER, *ELSEWHERE)}


def margin_of(finding: ProofFinding, cutting: Cutting) -> float | None:
    """How far the value is from its limit, negative where it is past it; None where either is not stated."""
    kind = BY_NAME.get(finding.check)
    if finding.value is None or finding.limit is None:
        return None
    good = finding.verdict is Verdict.GO
    sense = (kind.good if good else kind.sense) if kind else "size" if good else ""
    if sense == "most":
        return finding.limit - finding.value
    if sense == "least":
        return finding.value - finding.limit
    if sense == "size":
        return finding.limit - abs(finding.value)
    if sense == "past":
        return -abs(finding.limit - finding.value)
    if sense == "wanted" and kind is not None:
        return _tolerance(kind, finding, cutting) - abs(finding.value - finding.limit)
    return None


def _tolerance(kind: Kind, finding: ProofFinding, cutting: Cutting) -> float:
    if kind.name == "metal removed":
        return VOLUME_SHARE * abs(finding.limit or 0.0)
    if not kind.tolerance:
        return EDGE_TOLERANCE
    return float(getattr(cutting, kind.tolerance))


def with_margin(finding: ProofFinding, cutting: Cutting) -> ProofFinding:
    """The finding with its margin, where it has none yet."""
    if finding.margin is not None:
        return finding
    margin = margin_of(finding, cutting)
    return finding if margin is None else replace(finding, margin=margin)


def page() -> str:
    """The kinds as tables of the documentation."""
    first = ["| check | no-go when | limit from |", "| --- | --- | --- |"]
    first += [f"| {k.name} | {k.when} | {k.limit} |" for k in BY_NAME.values()]
    second = ["| check | what it means | what to do |", "| --- | --- | --- |"]
    second += [f"| {k.name} | {k.means} | {k.cure} |" for k in BY_NAME.values()]
    return "\n".join([*first, "", "### What each finding means, and what to do", "", *second])


if __name__ == "__main__":
    print(page())
