"""The command `render`: one scene, a study set, or the demo scenario."""
from __future__ import annotations

import argparse
import sys
import tomllib
from dataclasses import fields
from pathlib import Path
from typing import Any

from .chain import NOMINAL, Chip
from .demo import render_demo
from .make import make_photograph
from .study import render_study
from .variety import LIGHTS, Knobs, draw_scene

CUTTER_OPTIONS = {"length": "length_mm", "drop": "drop_mm", "angle": "edge_angle_deg", "radius": "edge_radius_um"}


class BadInput(Exception):
    """What the user gave cannot be rendered; the message says what to do."""


def main(arguments: list[str]) -> int:
    try:
        options = _parser().parse_args(arguments)
        return options.run(options)
    except (BadInput, ValueError) as error:
        print(f"render: {error}", file=sys.stderr)
        return 2
    except (OSError, RuntimeError) as error:
        print(f"render: {error}", file=sys.stderr)
        return 1


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="render", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    one = commands.add_parser("scene", help="one photograph and its truth",
                              description="Renders one photograph. What is not given is drawn at random by --seed.")
    one.add_argument("out", type=Path, help="the JPEG to write; the truth goes beside it (.json)")
    one.add_argument("--from", dest="description", type=Path, help="a TOML file with any of the options below (names with _ for -)")
    one.add_argument("--seed", type=int, help="what is drawn at random; default 1")
    one.add_argument("--view", choices=["profile", "plan"])
    one.add_argument("--mounting", choices=["bench", "bar"], help="profile: on the bench or on the bar")
    one.add_argument("--card", choices=["wide", "close"])
    one.add_argument("--chain", choices=list(NOMINAL), dest="chain_kind")
    one.add_argument("--corner", choices=["chisel", "semi-chisel"], dest="corner_kind")
    one.add_argument("--hand", choices=["left", "right"], help="of the cutter in the middle")
    one.add_argument("--side-up", choices=["left", "right"], help="profile: cutters of this hand show their outer face")
    one.add_argument("--chip", action="append", metavar="AT:DEPTH:WIDTH", help="a chip in the middle cutter's edge, mm; may be repeated")
    one.add_argument("--length", type=float, metavar="MM")
    one.add_argument("--drop", type=float, metavar="MM", help="gauge drop")
    one.add_argument("--angle", type=float, metavar="DEG", help="edge angle")
    one.add_argument("--radius", type=float, metavar="UM", help="edge radius (median)")
    one.add_argument("--burr", type=float, metavar="UM", dest="burr_um")
    one.add_argument("--light", choices=list(LIGHTS))
    one.add_argument("--tilt", type=float, metavar="DEG", dest="tilt_deg")
    one.add_argument("--off-centre", type=float, metavar="MM", dest="off_centre_mm")
    one.add_argument("--fill", type=float, metavar="SHARE", help="distance: share of the picture's width the card takes")
    one.add_argument("--focus-error", type=float, metavar="MM", dest="focus_error_mm")
    one.add_argument("--finish", choices=["stamped", "mirror", "scratched"])
    one.add_argument("--rust", type=float, metavar="0..1")
    one.add_argument("--oil", type=float, metavar="0..1")
    one.add_argument("--dirt", type=int, choices=range(4))
    one.add_argument("--engraved", action=argparse.BooleanOptionalAction)
    one.add_argument("--stretch", metavar="X:Y", help="print stretch, true over nominal length")
    one.add_argument("--curl", type=float, metavar="MM", dest="curl_mm")
    one.add_argument("--sharpen", type=float, metavar="AMOUNT")
    one.add_argument("--noise", type=float, metavar="LEVELS", help="8-bit levels at half grey")
    one.add_argument("--blur", type=float, metavar="PX", dest="blur_px")
    one.add_argument("--jpeg-quality", type=int, metavar="1..100")
    one.add_argument("--stand-off", type=float, metavar="MM", dest="stand_off_mm", help="bar: gap behind the chain; plan: top plates over the card")
    one.add_argument("--slot", choices=["through", "closed"])
    one.add_argument("--slip", action=argparse.BooleanOptionalAction, help="plan: a slip in the field's colour under the edge")
    one.add_argument("--field", dest="field_colour", choices=["blue", "green", "magenta", "orange"])
    one.add_argument("--orientation", type=int, choices=[1, 3, 6, 8], help="EXIF orientation")
    one.add_argument("--bench", choices=["wood", "metal", "concrete"])
    _common(one)
    one.set_defaults(run=_scene)
    study = commands.add_parser("study", help="a seeded set of photographs, rendered once and kept")
    study.add_argument("folder", type=Path)
    study.add_argument("--view", choices=["profile", "plan"], default="profile")
    study.add_argument("--count", type=int, default=20)
    study.add_argument("--first-seed", type=int, default=1000)
    study.add_argument("--knob", help="vary this one knob alone and keep the others usual, or each in turn (each); default: all together")
    _common(study)
    study.set_defaults(run=_study)
    demo = commands.add_parser("demo", help="the demo scenario: two chains at four stages")
    demo.add_argument("folder", type=Path)
    demo.add_argument("--only", nargs="*", metavar="NAME", help="photographs to render; default all")
    _common(demo)
    demo.set_defaults(run=lambda o: render_demo(o.folder, o.scale, o.threads, o.only))
    return parser


def _common(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--scale", type=float, default=1.0, help="of the picture's side lengths; 1 is 4000 x 3000 px")
    parser.add_argument("--threads", type=int, default=1, help="of the ray tracer")


def _scene(options: argparse.Namespace) -> int:
    given = _from_file(options.description) if options.description else {}
    given.update({k: v for k, v in vars(options).items() if v is not None})
    knobs = knobs_of(given)
    seed = int(given.get("seed", 1))
    truth = make_photograph(draw_scene(options.out.stem, seed, knobs), options.out, options.scale, options.threads)
    for cutter in truth["cutters"]:
        chips = ", ".join(f"{c['depth']:.2f} mm deep at {c['s']:.2f} mm" for c in cutter["chips"]) or "none"
        print(f"cutter {cutter['number']} ({cutter['hand']}, {cutter['seen']} in the picture): length {cutter['length_mm']:.2f} mm, "
              f"drop {cutter['gauge_drop_mm']:.3f} mm, edge radius {cutter['edge_radius_median_um']:.0f} um, chips: {chips}")
    return 0


def _study(options: argparse.Namespace) -> int:
    return render_study(options.folder, options.view, options.count, options.first_seed, options.knob, options.scale, options.threads)


def _from_file(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text())
    except FileNotFoundError as error:
        raise BadInput(f"{path} not found: give the path of a scene description") from error
    except tomllib.TOMLDecodeError as error:
        raise BadInput(f"{path} is not TOML: {error}") from error


def knobs_of(given: dict[str, Any]) -> Knobs:
    """Knobs from options or a file; chips as 'at:depth:width' or as tables."""
    known = {f.name for f in fields(Knobs)}
    values = {k: v for k, v in given.items() if k in known}
    cutter = dict(values.get("cutter") or {})
    for option, field in CUTTER_OPTIONS.items():
        if given.get(option) is not None:
            cutter[field] = float(given[option])
    chips = given.get("chip") or given.get("chips") or []
    if chips:
        cutter["chips"] = tuple(_chip(c, i) for i, c in enumerate(chips))
    values["cutter"] = cutter
    if isinstance(values.get("stretch"), str):
        values["stretch"] = _numbers(values["stretch"], 2, "--stretch", "X:Y, for example 1.004:0.998")
    extra = set(given) - known - set(CUTTER_OPTIONS) - {"chip", "chips", "seed", "out", "description", "run", "command", "scale", "threads"}
    if extra:
        raise BadInput(f"unknown setting '{sorted(extra)[0]}': see render scene --help")
    return Knobs(**values)


def _chip(given: Any, index: int) -> Chip:
    if isinstance(given, dict):
        return Chip(float(given["at_mm"]), float(given["depth_mm"]), float(given["width_mm"]), int(given.get("seed", index)))
    at, depth, width = _numbers(given, 3, "--chip", "AT:DEPTH:WIDTH in mm, for example 2.0:0.3:0.6")
    if not (0 < depth <= 1.5 and 0.02 <= width <= 5):
        raise BadInput(f"chip {given}: depth must lie over 0 and up to 1.5 mm, width between 0.02 and 5 mm")
    return Chip(at, depth, width, index)


def _numbers(text: str, count: int, option: str, form: str) -> tuple[float, ...]:
    try:
        values = tuple(float(v) for v in text.split(":"))
    except ValueError:
        values = ()
    if len(values) != count:
        raise BadInput(f"{option} {text}: give {form}")
    return values


