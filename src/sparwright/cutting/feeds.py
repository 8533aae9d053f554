"""Spindle speed, chip, feed, force and deflection of one cutter in one cut.

Formulas after Kienzle (specific cutting force kc = kc1.1 h^-mc, Kienzle & Victor 1957) and the geometry of
peripheral milling; each function names its own source. Angles in radians, lengths mm, forces N.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from sparwright.job.models import Bed, Cutter, Material

CARBIDE_MODULUS = 600_000.0  # MPa; from memory (about 580 GPa seen second-hand)
FLUTED_SHARE = 0.75  # d_eff = 0.7 to 0.8 D of a fluted length; a tool maker's course page
STRENGTH = 2000.0
"""Bending stress at which a cutter of cemented carbide snaps, about, MPa: the middle of what is measured between its grades
(Humphry-Baker and Smith, Phil. Trans. R. Soc. A 377, 20170443, 2019, section 3, doi 10.1098/rsta.2017.0443)."""
SNAP_SHARE = 0.7  # of that a tooth may use: common practice, no source
LEAST_CHIP = 0.0015  # mm: 0.3 x 5 um edge radius; Cheng et al. 2018, Int J Adv Manuf Technol 97:3119
MOST_THINNING = 2.0  # the feed is never raised more than this for a thin chip; common practice, no source
PLUNGE_SHARE = 0.3  # straight plunge feed of an end mill over its side feed; common practice, no source


def surface_speed(diameter: float, rpm: float) -> float:
    """Surface speed pi D n, m/min (definition, ISO 3002-1), of a diameter in mm at `rpm`."""
    return math.pi * diameter * rpm / 1000.0


def engaged_angle(diameter: float, ae: float) -> float:
    """Angle acos(1 - 2 ae / D) a tooth stays in the metal on a straight cut of radial depth `ae`, radians."""
    return math.acos(max(-1.0, 1.0 - 2.0 * ae / diameter))


def thickest_chip(diameter: float, ae: float, fz: float) -> float:
    """Greatest chip thickness, mm: 2 fz sqrt(ae/D - (ae/D)^2), or fz from half the diameter up (geometry)."""
    share = ae / diameter
    return fz if share >= 0.5 else 2.0 * fz * math.sqrt(share - share * share)


def mean_chip(diameter: float, ae: float, fz: float) -> float:
    """Mean chip thickness over the engaged arc, mm: fz (2 ae / D) / phi (undeformed-chip geometry)."""
    return fz * (2.0 * min(ae, diameter) / diameter) / engaged_angle(diameter, ae)


def thinning(diameter: float, ae: float) -> float:
    """Feed multiplier D / (2 sqrt(D ae - ae^2)) that keeps the thickest chip; 1 from half the diameter up."""
    if ae >= diameter / 2:
        return 1.0
    return diameter / (2.0 * math.sqrt(diameter * ae - ae * ae))


def specific_force(kc11: float, exponent: float, chip: float) -> float:
    """Kienzle's specific cutting force kc1.1 h^-mc, N/mm², at chip thickness `chip` mm."""
    return kc11 * chip**-exponent


def tooth_force(kc11: float, exponent: float, ap: float, chip: float) -> float:
    """Mean tangential force kc ap h on a tooth while it cuts, N, at mean chip thickness `chip` mm."""
    return specific_force(kc11, exponent, chip) * ap * chip


def cutting_power(rate: float, kc: float) -> float:
    """Power Q kc / 60000, W, of a removal rate Q in mm³/min at specific force `kc` N/mm²."""
    return rate * kc / 60_000.0


def compliance(cutter: Cutter) -> float:
    """Deflection of the cutter's end under a force there, mm/N: a cantilever in two lengths.

    Fluted length at 0.75 D, the rest of the stick-out at the shank's diameter; I = pi d^4 / 64.
    """
    fluted = min(cutter.flute_length, cutter.stick_out)
    i_flute = math.pi * (FLUTED_SHARE * cutter.diameter) ** 4 / 64
    i_shank = math.pi * cutter.shank**4 / 64
    return (fluted**3 / i_flute + (cutter.stick_out**3 - fluted**3) / i_shank) / (3 * CARBIDE_MODULUS)


def snaps_at(cutter: Cutter) -> float:
    """Force at its end that snaps a cutter, N: sigma pi d^3 / (32 L) at the root of its flutes or of its shank."""
    fluted = min(cutter.flute_length, cutter.stick_out)
    roots = ((FLUTED_SHARE * cutter.diameter, fluted), (cutter.shank, cutter.stick_out))
    return min(STRENGTH * math.pi * d**3 / (32 * lever) for d, lever in roots)


def spindle_speed(cutter: Cutter, bed: Bed, diameter: float | None = None) -> float:
    """Speed, rpm: the cutter's surface speed at `diameter` (its own if not said) within the spindle's range."""
    wanted = cutter.surface_speed * 1000.0 / (math.pi * (diameter or cutter.diameter))
    return min(max(wanted, bed.spindle.slowest), bed.spindle.fastest)


def power_at(bed: Bed, rpm: float) -> float:
    """Power at the cutter, W: rated power times efficiency, in proportion to speed below full_power_at."""
    s = bed.spindle
    full = s.full_power_at or s.fastest
    return s.power * s.efficiency * min(1.0, rpm / full)


PULSE = 3.0
"""Force of one tooth over the mean force the machine may carry.

Teeth strike at some 250 Hz and more, over the frame's own frequencies, and its mass carries them: 3 kg held by
nothing moves F/(m (2 pi f)²), 0.024 mm under 180 N, less than 60 N moves 1800 N/mm at rest (own estimate).
"""


@dataclass(frozen=True)
class Limits:
    """What a cut must stay within.

    force_N: mean force over a turn; a single tooth may pulse to PULSE times that. deflection_mm: of the cutter
    under one tooth. push_mm: of cutter and frame together under the mean force. block_mm: mean block length.
    head_on: chip a tooth meets where the path turns into the metal, as a share of the chip on a straight.
    `chip` replaces the cutter's own chip load (sheet material); `diameter` the diameter that cuts (vee cutters).
    """

    force_N: float
    deflection_mm: float = math.inf
    push_mm: float = math.inf
    block_mm: float = math.inf
    head_on: float = 0.0
    chip: float | None = None
    diameter: float | None = None


@dataclass(frozen=True)
class Feed:
    """Feeds of one cutter in one cut.

    feed: of the cutter's centre on a straight, mm/min. plunge: straight down, mm/min. chip: per tooth,
    thickest: greatest chip thickness, mm. force: mean on a tooth while it cuts, upper end of the material's spread, N.
    steady: the same force averaged over a turn, N. power and available W. deflection: of the cutter under
    `force`, push: of cutter and frame under `steady`, mm. rate: mm³/min. limited_by: plain words. warnings:
    plain sentences.
    """

    feed: float
    plunge: float
    rpm: float
    chip: float
    thickest: float
    force: float
    steady: float
    power: float
    available: float
    deflection: float
    push: float
    rate: float
    limited_by: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Cut:
    """One cutter in one cut, its figures as functions of the chip load fz, mm."""

    cutter: Cutter
    material: Material
    bed: Bed
    ae: float
    ap: float
    diameter: float
    rpm: float

    @property
    def share(self) -> float:
        """Share of a turn that teeth are in the metal, all flutes together, at most 1."""
        return min(1.0, self.cutter.flutes * engaged_angle(self.diameter, self.ae) / (2 * math.pi))

    @property
    def kc11(self) -> float:
        """Specific cutting force at a chip of 1 mm, upper end of its spread, N/mm²."""
        return self.material.cutting_force * (1 + self.material.cutting_spread)

    def mean(self, fz: float) -> float:
        """Mean chip thickness, mm."""
        return mean_chip(self.diameter, self.ae, fz)

    def force(self, chip: float) -> float:
        """Force of a tooth at a chip so thick, N."""
        return tooth_force(self.kc11, self.material.cutting_exponent, self.ap, chip)

    def power(self, fz: float) -> float:
        """Power at the cutter, W."""
        kc = specific_force(self.kc11, self.material.cutting_exponent, self.mean(fz))
        return cutting_power(self.ae * self.ap * fz * self.cutter.flutes * self.rpm, kc)

    def limited(self, fz: float, limits: Limits, give: float) -> tuple[float, str]:
        """The chip load within every limit, and what sets it. give: of cutter and frame, mm/N."""
        force, teeth = self.force(self.mean(fz)), self.cutter.flutes * self.rpm
        peak = self.force(max(thickest_chip(self.diameter, self.ae, fz), limits.head_on * fz))

        def within(allowed: float, there: float) -> float:
            """The chip load at which what is `there` at fz, and grows as a force does, is what is allowed."""
            return fz * (allowed / there) ** (1 / (1 - self.material.cutting_exponent))

        caps = [
            (fz, "chip load"),
            (within(limits.force_N, self.share * force), "cutting force"),
            (within(PULSE * limits.force_N, force), "a tooth's force"),
            (within(SNAP_SHARE * snaps_at(self.cutter), peak), "what snaps the cutter"),
            (within(limits.push_mm, give * self.share * force), "cutter and frame giving way"),
            (within(limits.deflection_mm, compliance(self.cutter) * force), "cutter deflection"),
            (within(power_at(self.bed, self.rpm), self.power(fz)), "spindle power"),
            (min(self.bed.feed_limit[:2]) / teeth, "the bed's feed limit"),
            (
                limits.block_mm * self.bed.controller.blocks_per_second * 60 / teeth,
                "the controller's block rate",
            ),
        ]
        return min(caps, key=lambda cap: cap[0])


def feed_for(cutter: Cutter, material: Material, bed: Bed, ae: float, ap: float, limits: Limits) -> Feed:
    """The feed of `cutter` at radial depth `ae` and axial depth `ap`, mm, within the machine and `limits`.

    Chip load with radial chip thinning, then lowered to what force, deflection, power, the bed's feed limit
    and the controller's block rate allow; the force grows as chip^(1 - mc), so each limit has a closed form.
    Raises ValueError where ae or ap is not above zero.
    """
    if not (ae > 0 and ap > 0):
        raise ValueError(f"a cut needs depths above zero, not {ae:g} mm radial and {ap:g} mm axial")
    diameter = limits.diameter or cutter.diameter
    ae = min(ae, diameter)
    rpm = spindle_speed(cutter, bed, diameter)
    cut = _Cut(cutter, material, bed, ae, ap, diameter, rpm)
    bend = compliance(cutter)
    give = bend + 1 / bed.frame_stiffness
    wanted = (limits.chip or cutter.chip) * min(thinning(diameter, ae), MOST_THINNING)
    fz, limited = cut.limited(wanted, limits, give)
    force = cut.force(cut.mean(fz))
    feed = fz * cutter.flutes * rpm
    thickest = thickest_chip(diameter, ae, fz)
    return Feed(
        feed=feed,
        plunge=min(feed * PLUNGE_SHARE, bed.feed_limit[2]),
        rpm=rpm,
        chip=fz,
        thickest=thickest,
        force=force,
        steady=force * cut.share,
        power=cut.power(fz),
        available=power_at(bed, rpm),
        deflection=force * bend,
        push=force * cut.share * give,
        rate=ae * ap * feed,
        limited_by=limited,
        warnings=_warnings(cutter, bed, rpm, diameter, thickest, limited),
    )


def _warnings(
    cutter: Cutter, bed: Bed, rpm: float, diameter: float, thickest: float, limited: str
) -> tuple[str, ...]:
    out = []
    speed = surface_speed(diameter, rpm)
    if speed > cutter.surface_speed * 1.001:
        out.append(
            f"the spindle's slowest {bed.spindle.slowest:.0f} rpm gives {speed:.0f} m/min, over the cutter's "
            f"{cutter.surface_speed:.0f} m/min: take a smaller cutter"
        )
    if thickest < LEAST_CHIP:
        out.append(
            f"the thickest chip, {thickest * 1000:.2f} µm, is under the {LEAST_CHIP * 1000:.1f} µm an edge needs, "
            f"so it rubs: raise what holds it ({limited}), or take a shallower pass"
        )
    return tuple(out)
