"""``gapwright film``: a run as frames, GIF, WebP or MP4."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE, UsageError
from viewer.command import common

SPEEDS = (0.05, 200.0)
MOST_FRAMES = 20_000
DEPENDS_ON = ("fix", "both", "seed", "from_s", "to_s", "speed", "fps", "ground", "size", "out")
#: An animation is held in memory whole; a film as MP4 or PNG is not.
MOST_HELD_PIXELS = 700_000_000


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    common.add_out(parser, "X.png (numbered frames), X.gif, X.webp or X.mp4")
    parser.add_argument(
        "--both", action="store_true", help="as built above, the fix below, on the same luck"
    )
    options.add_seed(parser)
    parser.add_argument(
        "--from",
        dest="from_s",
        type=common.seconds,
        metavar="S",
        help="where to begin (default: shortly before the first stall)",
    )
    parser.add_argument(
        "--to",
        dest="to_s",
        type=common.seconds,
        metavar="S",
        help="where to end (default: shortly after it)",
    )
    parser.add_argument(
        "--speed",
        type=float,
        default=1.0,
        metavar="X",
        help="how many seconds of the run in one of the film (default 1)",
    )
    parser.add_argument(
        "--fps",
        type=options.whole_number(1, 60),
        default=12,
        metavar="N",
        help="frames a second (default 12)",
    )
    common.add_ground(parser)
    common.add_size(parser, "960x540")


def run(given: argparse.Namespace) -> int:
    """Run, draw, write."""
    kind = common.kind_of(given, ("png", "gif", "webp", "mp4"))
    _check_speed_and_both(given)
    common.need_pygame()
    _need_library(kind)
    project = frame.read(given)
    case = project.case(frame.fix_of(given, project))
    cases = [project.case(), case] if given.both else [case]
    from viewer.film.frames import Shot, frames, stretch_of, views_of
    from viewer.film.write import write_frames

    views = views_of(cases, given.seed, common.look_of(given))
    shot = Shot(*stretch_of(views, given.from_s, given.to_s), given.speed, given.fps)
    _check(given, shot.from_s, shot.to_s, len(shot.times), kind)
    wide, high = given.size[0] // 2 * 2, given.size[1] // 2 * 2
    count = 0

    def write(path: str) -> None:
        nonlocal count
        count = write_frames(path, frames(views, shot, wide, high), wide, high, given.fps)

    common.write(given, write)
    common.give(
        given, case.scenario, case.fix, DEPENDS_ON, kind=kind, seed=given.seed, frames=count,
        from_s=round(shot.from_s, 3), to_s=round(shot.to_s, 3), speed=given.speed,
        fps=given.fps, wide_px=wide, high_px=high,
    )  # fmt: skip
    if given.json != "-":
        name = _written(given.out, kind)
        print(f"{count} frames, {shot.from_s:.1f} s to {shot.to_s:.1f} s of the run: {name}")
    return DONE


def _written(out: str, kind: str) -> str:
    """What to look for: a film as PNG is a file for each frame."""
    if kind != "png":
        return out
    from pathlib import Path

    place = Path(out)
    return str(place.with_name(f"{place.stem}-0001.png")) + " and on"


def _check_speed_and_both(given: argparse.Namespace) -> None:
    if not SPEEDS[0] <= given.speed <= SPEEDS[1]:
        raise UsageError(
            f"--speed: expected {SPEEDS[0]:g} to {SPEEDS[1]:g}, got {given.speed:g}"
        )
    if given.both and given.fix in (None, frame.AS_BUILT):
        raise UsageError("--both: expected together with --fix NAME, to show it below")


def _check(
    given: argparse.Namespace, from_s: float, to_s: float, count: int, kind: str
) -> None:
    if from_s >= to_s:
        raise UsageError(
            f"--from: expected a time before the end, {to_s:g} s, got {from_s:g} s"
        )
    most = MOST_FRAMES
    if kind in ("gif", "webp"):
        most = min(most, max(1, MOST_HELD_PIXELS // (given.size[0] * given.size[1])))
    if count > most:
        raise UsageError(
            f"--from, --to: expected at most {most} frames of that size as .{kind}, "
            f"got {count}: film less, at a higher --speed, or fewer --fps"
        )


def _need_library(kind: str) -> None:
    from importlib.util import find_spec

    needs = {"gif": "PIL", "webp": "PIL", "mp4": "imageio_ffmpeg"}.get(kind)
    if needs is not None and find_spec(needs) is None:
        raise UsageError(
            f"--out: writing .{kind} needs libraries that are not installed: "
            "pip install '.[film]' in the clone"
        )
