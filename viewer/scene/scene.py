"""The vocabulary of every drawing: lines, areas, discs and words, in world units.

World units are mm of the model, x east and y north.  A thing is drawn with a
:class:`Style` (which role it plays, by which pattern and weight) and an
:class:`About` (what it stands for, for tests, tooltips and screen readers).
How a role looks is decided by :mod:`viewer.look`, how it gets onto a surface by
the scene that is drawn on.  The first scene writes text.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

Point = tuple[float, float]
Line = Sequence[Point]

#: How a line is broken up. Numbers of bars across it are told by ``Style.bars``.
Pattern = Literal["solid", "long dashes", "dashes", "dots", "chain", "zigzag"]
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True, slots=True)
class Style:
    """How something is drawn.

    ``role`` picks the colour.  A line is ``width_mm`` wide but never less than
    ``least_px`` on a screen; ``bars`` short strokes cross it every so often.
    """

    role: str
    pattern: Pattern = "solid"
    width_mm: float = 0.0
    least_px: float = 1.0
    bars: int = 0


@dataclass(frozen=True, slots=True)
class About:
    """What a mark stands for: its kind of thing, the id, and the state shown."""

    what: str
    who: str = ""
    state: str = ""


@dataclass(frozen=True, slots=True)
class Lettering:
    """Words: their size in mm, never smaller than ``least_px``, hidden below ``hide_px``.

    With ``size_mm`` 0 they are always ``least_px`` high.  ``box`` is the role of a
    box behind them, empty for none; boxed words at a place that is seen stay in the window.
    """

    role: str = "ink"
    size_mm: float = 0.0
    least_px: float = 12.0
    hide_px: float = 0.0
    anchor: Anchor = "start"
    box: str = ""
    strong: bool = False


#: How the lines of a block are lettered; the first is strong.
BLOCK = Lettering("ink", 0.0, 13.0)
#: The line from a block to what it speaks of.
TIE = Style("alarm", "solid", 0.0, 1.5)


@dataclass(frozen=True, slots=True)
class BlockRoom:
    """Where a block of text may stand, and the place that a line ties it to."""

    up: bool = False  #: above its place rather than below
    clear_of: Sequence[Point] = ()  #: places that it must not cover
    rather_not: Sequence[Point] = ()  #: places of which it covers as few as it can
    tie: Point | None = None


ANYWHERE = BlockRoom()


class Scene(Protocol):
    """What drawing code asks of whatever it draws on."""

    def line(self, line: Line, style: Style, about: About) -> None:
        """An open line."""

    def area(self, line: Line, style: Style, about: About) -> None:
        """A filled area within a closed line; a pattern other than solid hatches it."""

    def disc(
        self, at: Point, radius_mm: float, least_px: float, style: Style, about: About,
        filled: bool = True,
    ) -> None:  # fmt: skip
        """A disc, or with ``filled`` False a ring."""

    def words(self, at: Point, text: str, lettering: Lettering, about: About) -> None:
        """One line of text, its middle height at the place."""

    def block(
        self, at: Point, lines: Sequence[str], about: About, room: BlockRoom = ANYWHERE
    ) -> None:
        """Lines of text in a box below (or above) the place, as many as there is room for.

        It is kept clear of other blocks and of what ``room`` says.
        """

    def sees(self, at: Point) -> bool:
        """Whether a place is within what is shown."""

    def shows(self, size_mm: float) -> bool:
        """Whether something that large can be made out at this scale."""


def written(text: str) -> str:
    """``text`` on one line, quoted: what it says cannot be mistaken for a field."""
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'").replace("\n", "\\n") + "'"


@dataclass(slots=True)
class TextScene:
    """The first scene: one line of text for each mark, so that drawing can be read.

    ``marks`` keeps (verb, about, style) besides, for tests that look things up.
    """

    lines: list[str] = field(default_factory=list)
    marks: list[tuple[str, About, Style | Lettering]] = field(default_factory=list)

    def line(self, line: Line, style: Style, about: About) -> None:
        """See :class:`Scene`."""
        self._write("line", about, style, _style(style), line)

    def area(self, line: Line, style: Style, about: About) -> None:
        """See :class:`Scene`."""
        self._write("area", about, style, _style(style), line)

    def disc(
        self, at: Point, radius_mm: float, least_px: float, style: Style, about: About,
        filled: bool = True,
    ) -> None:  # fmt: skip
        """See :class:`Scene`."""
        verb = "disc" if filled else "ring"
        self._write(verb, about, style, f"{_style(style)} radius {radius_mm:.1f}", [at])

    def words(self, at: Point, text: str, lettering: Lettering, about: About) -> None:
        """See :class:`Scene`."""
        self._write("words", about, lettering, f"{lettering.role} {written(text)}", [at])

    def block(
        self, at: Point, lines: Sequence[str], about: About, room: BlockRoom = ANYWHERE
    ) -> None:
        """See :class:`Scene`."""
        if room.tie is not None:
            self.line((room.tie, at), TIE, About("tie"))
        text = " / ".join(written(line) for line in lines)
        self._write("block", about, BLOCK, text, [at])

    def sees(self, at: Point) -> bool:
        """Text sees everything."""
        return True

    def shows(self, size_mm: float) -> bool:
        """Text shows everything."""
        return True

    def states(self, what: str) -> dict[str, set[str]]:
        """Every state that was drawn, by the id of things of kind ``what``."""
        found: dict[str, set[str]] = {}
        for _, about, _ in self.marks:
            if about.what == what:
                found.setdefault(about.who, set()).add(about.state)
        return found

    def _write(
        self, verb: str, about: About, style: Style | Lettering, how: str, line: Line
    ) -> None:
        places = " ".join(f"{x:.1f},{y:.1f}" for x, y in line)
        who = f" {written(about.who)}" if about.who else ""
        state = f" is {written(about.state)}" if about.state else ""
        self.lines.append(f"{verb} {about.what}{who}{state}: {how} at {places}")
        self.marks.append((verb, about, style))


def _style(style: Style) -> str:
    bars = f" with {style.bars} bars" if style.bars else ""
    return f"{style.role} {style.pattern}{bars}"
