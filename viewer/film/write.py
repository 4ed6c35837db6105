"""Write frames: as PNG files, or through Pillow and ffmpeg as GIF, WebP and MP4."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pygame

from sim.records.invariants import whole

KINDS = ("png", "gif", "webp", "mp4")

Frames = Iterable[pygame.Surface]


def write_frames(path: str, frames: Frames, wide: int, high: int, per_second: int) -> int:
    """Write by the file's ending; gives the number of frames.

    ``.png`` writes a file for each frame, ``X-0001.png`` and so on.  Raises
    ``OSError`` where it cannot be written, ``ImportError`` where a library lacks.
    """
    ending = Path(path).suffix.lower()
    if ending == ".png":
        return _pngs(Path(path), frames)
    write: Callable[[str], int]
    if ending == ".mp4":
        write = lambda beside: _mp4(beside, frames, (wide, high), per_second)  # noqa: E731
    else:
        write = lambda beside: _animation(beside, frames, ending, per_second)  # noqa: E731
    with whole(path, ending) as beside:
        return write(str(beside))


def _pngs(path: Path, frames: Frames) -> int:
    count = 0
    for count, frame in enumerate(frames, 1):
        pygame.image.save(frame, str(path.with_name(f"{path.stem}-{count:04d}.png")))
    return count


def _animation(path: str, frames: Frames, ending: str, per_second: int) -> int:
    from PIL import Image

    pictures = [_picture(frame) for frame in frames]
    first, rest = pictures[0], pictures[1:]
    options: dict[str, Any] = {"save_all": True, "append_images": rest, "loop": 0}
    options["duration"] = durations_ms(len(pictures), per_second, 10 if ending == ".gif" else 1)
    if ending == ".gif":
        palette = _palette(pictures)
        pictures = [p.quantize(palette=palette, dither=Image.Dither.NONE) for p in pictures]
        options["append_images"] = pictures[1:]
        pictures[0].save(path, format="GIF", optimize=False, **options)
    else:
        first.save(path, format="WEBP", quality=80, method=3, **options)
    return len(pictures)


def durations_ms(frames: int, per_second: int, unit_ms: int) -> list[int]:
    """How long each frame is shown, in whole units, so that none of them adds up to a drift.

    GIF counts hundredths of a second, and what is shorter than two of them is shown
    for ten by most programs: more frames a second than fifty then take longer.
    """
    if 1000 / per_second < 2 * unit_ms:
        return [2 * unit_ms] * frames
    ends = [round(1000 * k / per_second / unit_ms) * unit_ms for k in range(frames + 1)]
    return [b - a for a, b in itertools.pairwise(ends)]


def _palette(pictures: list[Any]) -> Any:
    """One palette for the whole film, so that nothing flickers: from frames all over it."""
    from PIL import Image

    chosen = pictures[:: max(1, len(pictures) // 12)]
    wide, high = chosen[0].size
    strip = Image.new("RGB", (wide, high * len(chosen)))
    for number, picture in enumerate(chosen):
        strip.paste(picture, (0, high * number))
    return strip.quantize(192, dither=Image.Dither.NONE)


def _picture(frame: pygame.Surface) -> Any:
    from PIL import Image

    return Image.frombytes("RGB", frame.get_size(), pygame.image.tobytes(frame, "RGB"))


def _mp4(path: str, frames: Frames, size: tuple[int, int], per_second: int) -> int:
    import imageio_ffmpeg

    writer = imageio_ffmpeg.write_frames(
        path, size, fps=per_second, quality=7, macro_block_size=2, ffmpeg_log_level="error"
    )
    writer.send(None)
    count = 0
    try:
        for count, frame in enumerate(frames, 1):  # noqa: B007
            writer.send(pygame.image.tobytes(frame, "RGB"))
    finally:
        writer.close()
    return count
