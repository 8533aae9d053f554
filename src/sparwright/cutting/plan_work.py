"""What planning one side has to work with, and the cuts of a feature before they are placed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

from sparwright.cutting.feeds import MOST_THINNING, Feed, Limits, feed_for, thinning
from sparwright.cutting.model import Path
from sparwright.cutting.paths import Rates
from sparwright.job.models import Cutter, Cutting, Job
from sparwright.placing.model import Setup
from sparwright.stock.model import Member

LEAST_STOCK = 0.02  # mm a finishing lap is taken to remove at least
GOOD_CHIP = 0.5  # a pass is made shallower until its chip is this share of the cutter's own
QUICK = 4.0  # speed through cleared ground over that of the cutter's chip load; own choice
SHALLOWEST = 0.3  # mm: no pass is made shallower than this for the chip's sake; common practice, no source


class CannotCut(ValueError):
    """A feature, or a part of it, that the cutters at hand cannot make; the message says what would."""


@dataclass(frozen=True)
class Template:
    """One cut of a feature about the feature's own origin.

    name: of the cut it goes into. deepest: height of the tip at its lowest. out: how far the cutter's axis stays
    inside the feature's rim, mm.
    """

    name: str
    kind: str
    cutter: Cutter
    path: Path
    feed: Feed
    out: float = 0.0

    @property
    def deepest(self) -> float:
        """Height n of the tip at its lowest, mm."""
        return float(self.path.end[:, 2].min())


@dataclass(frozen=True)
class Step:
    """A template on one feature, to be shifted by `at`. key: equal for copies of one path."""

    template: Template
    feature: str
    at: tuple[float, float]
    key: tuple[object, ...]


@dataclass(frozen=True)
class Work:
    """One side: the member, how it lies, and the job's cutters and limits."""

    member: Member
    setup: Setup
    job: Job

    @cached_property
    def flats(self) -> tuple[Cutter, ...]:
        """Flat cutters, largest first."""
        return tuple(sorted((c for c in self.job.cutters if c.kind == "flat"), key=lambda c: -c.diameter))

    @cached_property
    def vees(self) -> tuple[Cutter, ...]:
        """Vee cutters, largest first."""
        return tuple(sorted((c for c in self.job.cutters if c.kind == "vee"), key=lambda c: -c.diameter))

    @property
    def wishes(self) -> Cutting:
        """The job's wishes for cuts."""
        return self.job.file.cutting

    @property
    def wall_stock(self) -> float:
        """Metal left on walls for the finishing lap, at least LEAST_STOCK."""
        return max(self.wishes.wall_stock, LEAST_STOCK)

    def engagement(self, cutter: Cutter) -> tuple[float, float]:
        """Radial depth of clearing, mm, and the engaged angle it makes, radians."""
        share = max(self.wishes.engagement, 0.005)
        return share * cutter.diameter, math.acos(1 - 2 * share)

    def feed(self, cutter: Cutter, ae: float, ap: float, **limits: float) -> Feed:
        """The feed of a cut in this job's metal, within the thrust limit and further limits by name."""
        return feed_for(
            cutter,
            self.member.material,
            self.job.bed,
            ae,
            ap,
            Limits(self.wishes.thrust_limit, **limits),
        )

    def finish_feed(self, cutter: Cutter, ap: float) -> Feed:
        """The feed of a finishing lap: pushed off the wall by half its tolerance at most, bent within its stock."""
        return self.feed(
            cutter,
            self.wall_stock,
            ap,
            push_mm=self.wishes.wall_tolerance / 2,
            deflection_mm=max(self.wall_stock, 0.1),
        )

    def slot_feed(self, cutter: Cutter) -> Feed:
        """The feed with the whole width engaged, as deep as one turn of an entry helix falls."""
        return self.feed(cutter, cutter.diameter, 0.2 * cutter.diameter)

    def clear_feed(self, cutter: Cutter, depth: float) -> tuple[int, Feed]:
        """How many equal passes a clearing of `depth` takes, and the feed.

        As few as depth_per_pass and the flutes allow; more where the force would thin the chip below GOOD_CHIP.
        """
        ae, _ = self.engagement(cutter)
        most = min(self.wishes.depth_per_pass * cutter.diameter, cutter.flute_length)
        count = max(1, math.ceil(depth / most - 1e-9))
        bends = max(self.wall_stock / 2, LEAST_STOCK)
        good = GOOD_CHIP * cutter.chip * min(thinning(cutter.diameter, ae), MOST_THINNING)
        while True:
            f = self.feed(cutter, ae, depth / count, deflection_mm=bends)
            if f.chip >= good or depth / (count + 1) < SHALLOWEST:
                return count, f
            count += 1

    def rates(self, f: Feed) -> Rates:
        """Speeds and heights for a path."""
        return Rates(f.feed, f.plunge, self.job.bed.feed_limit[2], self.wishes.clearance)

    def travel(self, cutter: Cutter, f: Feed) -> float:
        """Speed through ground proven clear, mm/min: QUICK times the cutter's chip load, within the bed's feed limit.

        The side of the cutter may graze films there, where the chip is a third of the feed per tooth at most.
        """
        return min(min(self.job.bed.feed_limit[:2]), max(f.feed, QUICK * cutter.chip * cutter.flutes * f.rpm))


def reaches(cutter: Cutter, depth: float) -> bool:
    """Whether a cutter can finish a wall `depth` mm deep: on its flutes, or with a thinner shank behind them."""
    return cutter.flute_length >= depth - 1e-9 or (
        cutter.shank <= cutter.diameter - 0.1 and cutter.stick_out - 1.0 >= depth
    )
