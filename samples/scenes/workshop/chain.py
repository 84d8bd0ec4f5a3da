"""What a chain and its cutters look like: parameters only, and chains drawn at random.

Frame of a link: x in running direction, z away from the bar, z = 0 on the line of the rivet centres, `u` sideways with
the cutter's outer face at the larger u. Lengths in mm, angles in degrees, edge radii in micrometres.
Sizes follow general trade knowledge of saw chain; each chain varies them, so that nothing repeats.
"""
from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np


@dataclass(frozen=True)
class Chip:
    """A stretch of edge broken out: `at` its middle from the working corner, `depth` behind the worn neighbouring
    outline as seen from above, square to the edge."""

    at_mm: float
    depth_mm: float
    width_mm: float
    seed: int = 0


@dataclass(frozen=True)
class ChainShape:
    """What all links of one chain share when it leaves the factory."""

    name: str
    pitch: float
    link_share: float  # rivet distance of one rigid link over the pitch (the joint across a drive link makes up for it)
    corner_kind: str  # 'chisel' | 'semi-chisel'
    corner_radius: float
    gauge_thickness: float  # of the drive links
    clearance: float
    cutter_plate: float
    strap_plate: float
    half_height: float  # of the side links' lower body
    bottom_arch: float
    end_reach: float  # links' ends past their rivets
    rear_z: float  # height of the top plate's rear end
    rear_behind: float  # top plate's rear end behind the rear rivet
    rear_lean_deg: float  # of the tooth's rear end in profile
    new_length: float
    top_slope_deg: float
    set_out: float  # side plate's outer face outside the lower body's
    top_width: float
    top_thickness: float
    taper_outer_deg: float
    taper_inner_deg: float
    rear_rim: float
    inner_rim: float
    file_radius: float
    file_above_share: float  # share of the file's diameter above the top plate
    gauge_kind: str  # 'round' | 'ramp' | 'flat'
    gauge_set: float  # gauge's outer face outside the lower body's
    gauge_ahead: float  # rear end of the gauge's top ahead of a new cutter's corner
    gauge_run: float  # length of the gauge's top
    gauge_fall: float  # of its front end under its rear end
    gauge_rim: float
    gauge_cross: float  # height of its outer rim over its inner rim
    plate_rim: float
    rivet_radius: float
    rivet_height: float
    rivet_dimple: float
    strap_height: float
    strap_waist: float
    strap_bump: float  # hump at the front of the strap opposite to a cutter (guard link)
    tang_depth: float
    tang_lean: float
    drive_top: float


@dataclass(frozen=True)
class CutterState:
    """One cutter as it now is. `length_mm` runs to the virtual sharp corner; `edge_radius_um` is the median."""

    number: int | None
    hand: str
    length_mm: float
    drop_mm: float
    edge_angle_deg: float
    edge_radius_um: float
    radius_variation: float = 0.06
    corner_dulling: float = 0.0  # extra radius at the working corner, as a share
    dull_spot: tuple[float, float, float] | None = None  # at, width (mm), factor
    chips: tuple[Chip, ...] = field(default_factory=tuple)
    top_slope_deg: float | None = None  # None: the chain's own
    gauge_filed_flat: bool = False
    burr_um: float = 0.0
    seed: int = 0


NOMINAL = {
    # pitch, new length, top width, file radius, rear height, rivet radius: round figures of the trade, from memory
    ".325": (8.255, 8.6, 5.0, 2.4, 4.75, 1.95),
    "3/8": (9.32, 9.6, 5.6, 2.6, 5.2, 2.2),
    "3/8 low profile": (9.3, 8.3, 4.6, 2.0, 4.5, 2.0),
    ".404": (10.26, 10.6, 6.1, 2.75, 5.75, 2.5),
}


def random_chain(kind: str, rng: np.random.Generator, corner_kind: str | None = None) -> ChainShape:
    """A chain of the trade's size `kind` with everything else its own, by `rng`."""
    pitch, length, width, file_radius, rear_z, rivet = NOMINAL[kind]
    scale = pitch / 9.32

    def vary(value: float, share: float) -> float:
        return float(value * (1 + rng.uniform(-share, share)))

    corner_kind = corner_kind or str(rng.choice(["chisel", "semi-chisel"]))
    set_out = float(rng.uniform(0.1, 0.55))
    file_above = float(rng.uniform(0.16, 0.24))
    return ChainShape(
        name=kind, pitch=vary(pitch, 0.002), link_share=float(rng.uniform(0.98, 1.03)), corner_kind=corner_kind,
        corner_radius=float(rng.uniform(0.06, 0.28) if corner_kind == "chisel" else rng.uniform(0.9, 1.9)),
        gauge_thickness=float(rng.choice([1.1, 1.3, 1.5, 1.6])), clearance=float(rng.uniform(0.03, 0.1)),
        cutter_plate=float(rng.uniform(1.05, 1.75)), strap_plate=float(rng.uniform(1.0, 1.7)),
        half_height=vary(3.0 * scale, 0.1), bottom_arch=float(rng.uniform(0.2, 0.9)) * scale,
        end_reach=vary(3.25 * scale, 0.08), rear_z=vary(rear_z, 0.07), rear_behind=vary(3.0 * scale, 0.12),
        rear_lean_deg=float(rng.uniform(-8, 12)), new_length=vary(length, 0.04),
        top_slope_deg=float(rng.uniform(3.0, 7.5)), set_out=set_out, top_width=vary(width, 0.14),
        top_thickness=float(rng.uniform(1.05, 1.7)), taper_outer_deg=float(rng.uniform(0.8, 3.5)),
        taper_inner_deg=float(rng.uniform(0.0, 3.5)), rear_rim=float(rng.uniform(0.08, 0.35)),
        inner_rim=float(rng.uniform(0.06, 0.2)), file_radius=vary(file_radius, 0.05),
        file_above_share=file_above, gauge_kind=str(rng.choice(["round", "ramp", "flat"])),
        gauge_set=float(rng.uniform(-0.25, set_out)), gauge_ahead=vary(4.35 * scale, 0.06),
        gauge_run=vary(1.9 * scale, 0.3), gauge_fall=float(rng.uniform(0.05, 0.5)),
        gauge_rim=float(rng.uniform(0.05, 0.25)), gauge_cross=float(rng.uniform(-0.08, 0.08)),
        plate_rim=float(rng.uniform(0.06, 0.22)), rivet_radius=vary(rivet, 0.12),
        rivet_height=float(rng.uniform(0.55, 1.1)), rivet_dimple=float(rng.uniform(0.0, 0.25)),
        strap_height=vary(2.75 * scale, 0.1), strap_waist=float(rng.uniform(0.0, 0.6)) * scale,
        strap_bump=float(rng.choice([0.0, 0.0, 1.0]) * rng.uniform(0.8, 1.8)) * scale,
        tang_depth=vary(7.2 * scale, 0.1), tang_lean=float(rng.uniform(-0.8, 1.6)) * scale,
        drive_top=vary(2.3 * scale, 0.12),
    )


def usual_cutter(chain: ChainShape, number: int | None, hand: str, rng: np.random.Generator, **known) -> CutterState:
    """A cutter in everyday condition; `known` fixes any field of CutterState."""
    values = dict(
        number=number, hand=hand, length_mm=float(chain.new_length * rng.uniform(0.72, 1.0)),
        drop_mm=float(rng.uniform(0.4, 0.85)), edge_angle_deg=float(rng.uniform(24, 34)),
        edge_radius_um=float(np.exp(rng.uniform(np.log(8), np.log(60)))),
        radius_variation=float(rng.uniform(0.02, 0.12)), corner_dulling=float(rng.uniform(0, 0.3)),
        seed=int(rng.integers(1 << 30)),
    )
    values.update(known)
    return CutterState(**values)


def filed_slope(chain: ChainShape, state: CutterState) -> float:
    return chain.top_slope_deg if state.top_slope_deg is None else state.top_slope_deg


__all__ = ["Chip", "ChainShape", "CutterState", "NOMINAL", "random_chain", "usual_cutter", "filed_slope", "replace"]
