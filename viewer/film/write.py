"""Write frames: as PNG files, or through Pillow and ffmpeg as GIF, WebP and MP4."""

from __future__ import annotations

import contextlib
import errno
import io
import itertools
import subprocess
import tempfile
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import pygame

from sim.records.invariants import whole

KINDS = ("png", "gif", "webp", "mp4")
#: How coarse the encoder for H.264 may be, of 0 to 51: small letters stay legible.
MP4_LOSS = 15

Frames = Iterable[pygame.Surface]


def write_frames(path: str, frames: Frames, wide: int, high: int, per_second: int) -> int:
    """Write by the file's ending; gives the number of frames.

    ``.png`` writes a file for each frame, ``X-0001.png`` and so on.  Where it cannot be
    written nothing is left of it, and what was there before stays.  Raises ``OSError``
    for that, ``ImportError`` where a library lacks.
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
    """All frames are written beside first: a disk that is full keeps none of them.

    The frames that follow on in the folder are of an older film, and go.
    """
    count = 0
    with tempfile.TemporaryDirectory(prefix=f".{path.stem[:60]}.", dir=path.parent) as folder:
        for count, frame in enumerate(frames, 1):
            made = io.BytesIO()
            pygame.image.save(frame, made, ".png")  # to a file it would not tell of an error
            numbered(Path(folder, path.name), count).write_bytes(made.getvalue())
        for number in range(1, count + 1):
            numbered(Path(folder, path.name), number).replace(numbered(path, number))
    for number in itertools.count(count + 1):
        older = numbered(path, number)
        if not older.is_file():
            break
        older.unlink()
    return count


def numbered(path: Path, number: int) -> Path:
    """The file that frame ``number``, counted from 1, of a film as PNG goes to."""
    return path.with_name(f"{path.stem}-{number:04d}.png")


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
    """Through ffmpeg, which is listened to: the library would not say that it failed."""
    import imageio_ffmpeg

    wide, high = size
    command = [imageio_ffmpeg.get_ffmpeg_exe(), "-y", "-v", "error",
               "-f", "rawvideo", "-pix_fmt", "rgb24", "-s", f"{wide}x{high}",
               "-r", str(per_second), "-i", "-", "-an",
               "-vcodec", "libx264", "-crf", str(MP4_LOSS), "-pix_fmt", "yuv420p",
               path]  # fmt: skip
    count = 0
    with tempfile.TemporaryFile() as said:
        with subprocess.Popen(command, stdin=subprocess.PIPE, stderr=said) as ffmpeg:
            assert ffmpeg.stdin is not None
            try:
                for count, frame in enumerate(frames, 1):  # noqa: B007
                    ffmpeg.stdin.write(pygame.image.tobytes(frame, "RGB"))
            except BrokenPipeError:
                pass  # it ended early: what it said tells why
            except BaseException:
                ffmpeg.kill()
                raise
            finally:
                with contextlib.suppress(BrokenPipeError):
                    ffmpeg.stdin.close()
        if ffmpeg.returncode != 0:
            said.seek(0)
            raise OSError(errno.EIO, _last_words(said.read(), ffmpeg.returncode))
    return count


def _last_words(said: bytes, code: int) -> str:
    """What ffmpeg complained of last, in its words."""
    lines = said.decode(errors="replace").strip().splitlines()
    return f"ffmpeg: {lines[-1]}" if lines else f"ffmpeg ended with {code}"
