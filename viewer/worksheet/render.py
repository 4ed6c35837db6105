"""The worksheet as a page to print: HTML that needs nothing else, and PDF made of it."""

from __future__ import annotations

from pathlib import Path

from markupsafe import Markup

from sim.bench.worksheet.model import Worksheet
from sim.layout.model import Layout
from sim.pages.phrases import (
    SAFETY,
    STAGES,
    caution_line,
    refusal_line,
    refusal_words,
    task_line,
)
from sim.pages.worksheet import (
    CONTINUITY_HEAD,
    ISOLATION_HEAD,
    LAMP_HEAD,
    cell_words,
    length_words,
    lit_words,
    place_words,
)
from viewer.templates import templates
from viewer.worksheet.drawing import side_svg

#: Settings side by side in a printed table.
SIDE_BY_SIDE = 4


class NoPdfError(Exception):
    """PDF cannot be made here; says why, and what helps."""


def worksheet_html(sheet: Worksheet, layout: Layout, command: str) -> str:
    """The whole page; ``layout`` has the fix applied."""
    environment = templates(Path(__file__).parent)
    return environment.get_template("sheet.html").render(
        sheet=sheet,
        drawings=_drawings(sheet, layout),
        command=command,
        cell=cell_words,
        lit=lit_words,
        place=place_words,
        cut=length_words,
        blocks=_blocks,
        continuity_head=CONTINUITY_HEAD,
        isolation_head=ISOLATION_HEAD,
        lamp_head=LAMP_HEAD,
        owners=_owners(sheet),
        safety=SAFETY,
        stages=STAGES,
        task=task_line,
        refusal=refusal_line,
        why_not=refusal_words,
        caution=caution_line,
    )


def _drawings(sheet: Worksheet, layout: Layout) -> list[dict[str, object]]:
    found: list[dict[str, object]] = []
    for placed in layout.pieces:
        if placed.id in sheet.pieces:
            spots = [s for s in sheet.spots if s.piece == placed.id]
            sides = [
                Markup(side_svg(placed.piece, spots, sheet.wires, face, placed.id))
                for face in ("top", "underside")
            ]
            found.append({"id": placed.id, "kind": placed.piece.kind, "sides": sides})
    return found


def _blocks(count: int) -> list[range]:
    """Settings in groups that fit a page side by side."""
    return [range(k, min(k + SIDE_BY_SIDE, count)) for k in range(0, count, SIDE_BY_SIDE)]


def _owners(sheet: Worksheet) -> list[tuple[str, list[str]]]:
    owners: dict[str, list[str]] = {}
    for a in sheet.assumptions:
        owners.setdefault(a.whose, []).append(f"{a.what}: {a.value}")
    return list(owners.items())


def worksheet_pdf(html: str) -> bytes:
    """The page as PDF. Raises :class:`NoPdfError` where no library for that is there."""
    try:
        from weasyprint import HTML
    except ImportError:
        raise NoPdfError("install it with  pip install '.[pdf]'  in the clone") from None
    except OSError:
        raise NoPdfError(
            "WeasyPrint is there, but the Pango library that it needs is not"
        ) from None
    made: bytes = HTML(string=html).write_pdf()
    return made
