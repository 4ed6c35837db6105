"""The scene as SVG: one element for each mark, with a title for who hovers or listens."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from viewer.escape import escape
from viewer.look import Look, Rgb
from viewer.scene.camera import (
    Box,
    Camera,
    clear_place,
    kept_within,
    lines_that_fit,
    nearest_on,
)
from viewer.scene.dashes import RHYTHM, bars, zigzag
from viewer.scene.scene import (
    ANYWHERE,
    BLOCK,
    TIE,
    About,
    Anchor,
    BlockRoom,
    Lettering,
    Line,
    Point,
    Style,
)

#: Width of a character as a share of its height, on average (for boxes behind words).
CHARACTER = 0.56
#: The same in a block, where words must not stand out: of wide fonts, plain and bold.
BLOCK_CHARACTER, STRONG_CHARACTER = 0.61, 0.7


@dataclass(slots=True)
class SvgScene:
    """Collects elements; :meth:`text` gives the whole drawing."""

    camera: Camera
    look: Look
    variables: bool = False  #: colours as CSS variables, for a page that declares them
    parts: list[str] = field(default_factory=list)
    size: tuple[float, float] = (0.0, 0.0)
    taken: list[Box] = field(default_factory=list)  #: where blocks of text are
    _open: bool = False

    def __post_init__(self) -> None:
        """Take the first camera's window for the size."""
        self.size = self.camera.wide_px, self.camera.high_px

    def aim(self, camera: Camera) -> None:
        """Draw through another camera from now on, and only inside its window."""
        self._shut()
        self.camera, self.taken = camera, []
        left, top = _number(camera.left_px), _number(camera.top_px)
        wide, high = _number(camera.wide_px), _number(camera.high_px)
        self.parts.append(
            f'<svg x="{left}" y="{top}" width="{wide}" height="{high}" '
            f'viewBox="{left} {top} {wide} {high}">'
        )
        self._open = True

    def _shut(self) -> None:
        if self._open:
            self.parts.append("</svg>")
            self._open = False

    def line(self, line: Line, style: Style, about: About) -> None:
        """See :class:`viewer.scene.scene.Scene`."""
        width = self._width(style)
        pixels = [self.camera.to_px(p) for p in line]
        dash = ""
        if style.pattern == "zigzag":
            pixels = zigzag(pixels, width)
        elif style.pattern in RHYTHM:
            steps = " ".join(_number(part * width) for part in RHYTHM[style.pattern])
            dash = f' stroke-dasharray="{steps}"'
        # Ends are cut square: a round one would cover the rails of the next piece.
        bend = ' stroke-linejoin="round"' if style.pattern in ("solid", "zigzag") else ""
        self._put(
            f'<polyline points="{_points(pixels)}" fill="none" '
            f'stroke="{self._colour(style.role)}" stroke-width="{_number(width)}"{dash}{bend}',
            about,
            "polyline",
        )
        if style.bars:
            self._bars(pixels, width, style)

    def _bars(self, pixels: Line, width: float, style: Style) -> None:
        path = "".join(f"M{_pair(a)}L{_pair(b)}" for a, b in bars(pixels, width, style.bars))
        if path:
            self.parts.append(
                f'<path d="{path}" stroke="{self._colour(style.role)}" '
                f'stroke-width="{_number(max(1.0, width * 0.6))}"/>'
            )

    def area(self, line: Line, style: Style, about: About) -> None:
        """See :class:`viewer.scene.scene.Scene`."""
        pixels = [self.camera.to_px(p) for p in line]
        fill = self._colour(style.role)
        paint = f'fill="{fill}"'
        if style.pattern != "solid":
            paint = f'fill="{fill}" fill-opacity="0.35"'
        self._put(f'<polygon points="{_points(pixels)}" {paint}', about, "polygon")

    def disc(
        self, at: Point, radius_mm: float, least_px: float, style: Style, about: About,
        filled: bool = True,
    ) -> None:  # fmt: skip
        """See :class:`viewer.scene.scene.Scene`."""
        x, y = self.camera.to_px(at)
        radius = max(radius_mm * self.camera.px_per_mm, least_px)
        colour = self._colour(style.role)
        paint = (
            f'fill="{colour}"'
            if filled
            else (f'fill="none" stroke="{colour}" stroke-width="{_number(self._width(style))}"')
        )
        self._put(
            f'<circle cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}" {paint}',
            about,
            "circle",
        )

    def words(self, at: Point, text: str, lettering: Lettering, about: About) -> None:
        """See :class:`viewer.scene.scene.Scene`."""
        size = lettering.size_mm * self.camera.px_per_mm
        if size < lettering.hide_px:
            return
        size = max(size, lettering.least_px)
        x, y = self.camera.to_px(at)
        if lettering.box:
            wide, pad = len(text) * size * CHARACTER, size * 0.3
            share = {"start": 0.0, "middle": 0.5, "end": 1.0}[lettering.anchor]
            left = x - wide * share
            x += kept_within(self.camera, x, left, wide, pad) - left
            self._box(x, y, size, text, lettering)
        weight = ' font-weight="bold"' if lettering.strong else ""
        self._put(
            f'<text x="{_number(x)}" y="{_number(y + 0.35 * size)}" '
            f'font-size="{_number(size)}" text-anchor="{lettering.anchor}"{weight} '
            f'fill="{self._colour(lettering.role)}"',
            about,
            "text",
            escape(text, quote=False),
        )

    def _box(self, x: float, y: float, size: float, text: str, lettering: Lettering) -> None:
        wide = len(text) * size * CHARACTER + size * 0.6
        starts: dict[Anchor, float] = {"start": size * 0.3, "middle": wide / 2.0,
                                       "end": wide - size * 0.3}  # fmt: skip
        self.parts.append(
            f'<rect x="{_number(x - starts[lettering.anchor])}" '
            f'y="{_number(y - 0.7 * size)}" width="{_number(wide)}" '
            f'height="{_number(1.4 * size)}" rx="{_number(size * 0.2)}" '
            f'fill="{self._colour(lettering.box)}"/>'
        )

    def block(
        self, at: Point, lines: Sequence[str], about: About, room: BlockRoom = ANYWHERE
    ) -> None:
        """See :class:`viewer.scene.scene.Scene`."""
        size = BLOCK.least_px
        lines = lines[: lines_that_fit(self.camera, size * 1.35, size * 0.6)]
        plain = max((len(line) for line in lines[1:]), default=0) * BLOCK_CHARACTER
        wide = max(len(lines[0]) * STRONG_CHARACTER, plain) * size + size
        high = len(lines) * size * 1.35 + size * 0.6
        x, y = clear_place(self.camera, at, (wide, high), self.taken, room)
        if room.tie is not None:
            end = nearest_on(self.camera.to_px(room.tie), (x, y, x + wide, y + high))
            self.line((room.tie, self.camera.to_mm(end)), TIE, About("tie"))
        self.parts.append(
            f'<rect x="{_number(x)}" y="{_number(y)}" width="{_number(wide)}" '
            f'height="{_number(high)}" rx="4" fill="{self._colour("alarm fill")}" '
            f'stroke="{self._colour("alarm")}" stroke-width="1.5"/>'
        )
        for number, line in enumerate(lines):
            strong = ' font-weight="bold"' if number == 0 else ""
            base = y + size * 1.25 + number * size * 1.35
            self._put(
                f'<text x="{_number(x + size * 0.5)}" y="{_number(base)}" '
                f'font-size="{_number(size)}"{strong} fill="{self._colour("ink")}"',
                about if number == 0 else About("cause"),
                "text",
                escape(line, quote=False),
            )

    def sees(self, at: Point) -> bool:
        """See :class:`viewer.scene.scene.Scene`."""
        return self.camera.sees(at)

    def shows(self, size_mm: float) -> bool:
        """Something of at least a pixel and a half."""
        return size_mm * self.camera.px_per_mm >= 1.5

    def text(self, title: str, note: str = "") -> str:
        """The whole drawing as an SVG document, as large as the camera it began with."""
        self._shut()
        wide, high = _number(self.size[0]), _number(self.size[1])
        desc = f"<desc>{escape(note, quote=False)}</desc>" if note else ""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" '
            f'width="{wide}" height="{high}" role="img" '
            f'font-family="system-ui, sans-serif">'
            f"<title>{escape(title, quote=False)}</title>{desc}"
            f'<rect width="{wide}" height="{high}" fill="{self._colour("ground")}"/>\n'
            + "\n".join(self.parts)
            + "\n</svg>\n"
        )

    def _put(self, element: str, about: About, tag: str, content: str = "") -> None:
        said = " ".join(x for x in (about.who, about.state) if x)
        title = f"<title>{escape(f'{about.what} {said}', quote=False)}</title>" if said else ""
        if title or content:
            self.parts.append(f"{element}>{title}{content}</{tag}>")
        else:
            self.parts.append(f"{element}/>")

    def _width(self, style: Style) -> float:
        return max(style.width_mm * self.camera.px_per_mm, style.least_px)

    def _colour(self, role: str) -> str:
        if self.variables:
            known = role if role in self.look.colours else "ink"
            return f"var(--{known.replace(' ', '-')})"
        return css(self.look.colour(role))


def css(colour: Rgb) -> str:
    """``#rrggbb``."""
    return "#{:02x}{:02x}{:02x}".format(*colour)


def _points(pixels: Line) -> str:
    return " ".join(_pair(p) for p in pixels)


def _pair(at: Point) -> str:
    return f"{_number(at[0])},{_number(at[1])}"


def _number(value: float) -> str:
    """Two digits after the point, without needless noughts."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text
