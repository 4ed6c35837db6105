"""Films: frames by the window's own drawing code, in every format."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from pathlib import Path

import pytest

from tests.viewer.demo import CLUB, ROOT, case_of, record_of

pygame = pytest.importorskip("pygame")
pillow = pytest.importorskip("PIL.Image")

from viewer.film.frames import Shot, frames, stretch_of, views_of  # noqa: E402
from viewer.film.write import durations_ms, write_frames  # noqa: E402
from viewer.look import LIGHT  # noqa: E402

WIDE, HIGH = 320, 240


@pytest.fixture(scope="module")
def views() -> list[object]:
    return views_of([case_of(CLUB), case_of(CLUB, "two jumpers")], 1, LIGHT)


def test_it_begins_before_the_first_stall_and_ends_after_it(views: list[object]) -> None:
    first = record_of(CLUB).stalls[0].time_s
    begin, end = stretch_of(views, None, None)  # type: ignore[arg-type]
    assert begin < first < end
    assert stretch_of(views, 5.0, 7.0) == (5.0, 7.0)  # type: ignore[arg-type]


def test_only_the_fonts_of_pygame_are_started(views: list[object]) -> None:
    """No window, no display: a film needs no screen."""
    pygame.display.quit()
    list(frames(views, Shot(0.0, 0.2, 1.0, 10), WIDE, HIGH))  # type: ignore[arg-type]
    assert not pygame.display.get_init()


@pytest.mark.parametrize("ending", ["gif", "webp", "mp4"])
def test_the_file_holds_every_frame(views: list[object], tmp_path: Path, ending: str) -> None:
    if ending == "mp4":
        pytest.importorskip("imageio_ffmpeg")
    path = tmp_path / f"film.{ending}"
    shot = Shot(9.0, 10.5, 1.0, 6)
    count = write_frames(str(path), frames(views, shot, WIDE, HIGH), WIDE, HIGH, 6)  # type: ignore[arg-type]
    assert count == len(shot.times) == 9
    assert [p.name for p in tmp_path.iterdir()] == [path.name]
    if ending == "mp4":
        import imageio_ffmpeg

        found, seconds = imageio_ffmpeg.count_frames_and_secs(str(path))
        assert found == count and seconds == pytest.approx(1.5, abs=0.2)
    else:
        picture = pillow.open(path)
        # Frames that do not differ may be put together; what they last may not.
        last = 0
        for k in range(picture.n_frames):
            picture.seek(k)
            picture.load()
            last += picture.info["duration"]
        assert picture.size == (WIDE, HIGH)
        assert last == pytest.approx(9 * round(1000 / 6), abs=90)


def test_numbered_frames_have_something_on_them(views: list[object], tmp_path: Path) -> None:
    shot = Shot(0.0, 0.2, 1.0, 10)
    write_frames(str(tmp_path / "f.png"), frames(views, shot, WIDE, HIGH), WIDE, HIGH, 10)  # type: ignore[arg-type]
    assert sorted(p.name for p in tmp_path.iterdir()) == ["f-0001.png", "f-0002.png"]
    picture = pygame.image.load(tmp_path / "f-0001.png")
    colours = {tuple(picture.get_at((x, y)))[:3] for x in range(WIDE) for y in range(HIGH)}
    assert len(colours) > 20


def test_a_film_that_cannot_be_written_leaves_nothing(
    views: list[object], tmp_path: Path
) -> None:
    def broken() -> object:
        yield next(iter(frames(views, Shot(0.0, 0.2, 1.0, 10), WIDE, HIGH)))  # type: ignore[arg-type]
        raise OSError("disk full")

    with pytest.raises(OSError):
        write_frames(str(tmp_path / "f.gif"), broken(), WIDE, HIGH, 10)  # type: ignore[arg-type]
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("ending", ["png", "gif", "webp", "mp4"])
def test_no_room_is_said_and_keeps_nothing(tmp_path: Path, ending: str) -> None:
    """No file may grow beyond 2 KiB here (POSIX, setrlimit: RLIMIT_FSIZE): a write fails."""
    if ending == "mp4":
        pytest.importorskip("imageio_ffmpeg")
    old = tmp_path / ("f-0001.png" if ending == "png" else f"f.{ending}")
    old.write_bytes(b"what was there before")
    argv = ["film", str(CLUB), "--out", str(tmp_path / f"f.{ending}"), "--from", "9",
            "--to", "10", "--fps", "3", "--size", "320x240"]  # fmt: skip
    script = f"from sim.command.main import main; raise SystemExit(main({argv}))"
    done = subprocess.run(
        [sys.executable, "-c", script],
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (2048, 2048)),
        env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1"},
        capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    assert done.returncode == 2, done.stderr
    assert "--out: cannot write" in done.stderr and "Traceback" not in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == [old.name]
    assert old.read_bytes() == b"what was there before"


def test_a_film_to_a_full_device_fails(views: list[object], tmp_path: Path) -> None:
    full = tmp_path / "f.gif"
    full.symlink_to("/dev/full")
    shot = Shot(9.0, 9.5, 1.0, 4)
    with pytest.raises(OSError, match="No space left"):
        write_frames(str(full), frames(views, shot, WIDE, HIGH), WIDE, HIGH, 4)  # type: ignore[arg-type]


def test_frames_of_an_older_longer_film_go(views: list[object], tmp_path: Path) -> None:
    """Those that would follow on; what else is in the folder stays."""
    path, shot = tmp_path / "f.png", Shot(0.0, 0.2, 1.0, 10)
    for number in (1, 2, 3, 4):
        (tmp_path / f"f-{number:04d}.png").write_bytes(b"older")
    for other in ("f-2024.png", "g-0003.png", "f.png"):
        (tmp_path / other).write_bytes(b"other")
    assert write_frames(str(path), frames(views, shot, WIDE, HIGH), WIDE, HIGH, 10) == 2  # type: ignore[arg-type]
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "f-0001.png", "f-0002.png", "f-2024.png", "f.png", "g-0003.png"
    ]  # fmt: skip
    assert b"older" not in (tmp_path / "f-0002.png").read_bytes()


@pytest.mark.parametrize(("per_second", "unit_ms"), [(12, 10), (12, 1), (30, 10), (24, 1)])
def test_a_film_takes_as_long_as_what_it_shows(per_second: int, unit_ms: int) -> None:
    """GIF counts hundredths of a second (GIF89a, 23): 12 frames a second are 83.3 ms each."""
    shown = durations_ms(168, per_second, unit_ms)
    assert abs(sum(shown) - 168 * 1000 / per_second) <= unit_ms
    assert all(d % unit_ms == 0 for d in shown) and max(shown) - min(shown) <= unit_ms


def test_no_frame_of_a_gif_is_so_short_that_it_is_shown_for_long() -> None:
    """Below two hundredths programs fall back to a tenth (common practice, no source)."""
    assert set(durations_ms(10, 60, 10)) == {20}
    assert min(durations_ms(50, 50, 10)) == 20
