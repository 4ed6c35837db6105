"""``gapwright learn``: find out how a piece is wired, from readings.

Asking for readings of an unknown piece at the terminal, one after the other.
"""

from __future__ import annotations

import argparse
import json
import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.bench.learning.form import BENCH, Form
from sim.bench.learning.study import NextPair, study
from sim.bench.learning.subject import setting_words
from sim.bench.readings.model import METER_LETTERS, Positions, Probe, Reading, meter_outcomes
from sim.command import frame, options
from sim.command.frame import DONE, UsageError
from sim.command.locate import HELP_METER, answer, number_or_word
from sim.pages.learn import print_next
from sim.pages.page import Page

if TYPE_CHECKING:
    from sim.bench.learning.form import FormFile
    from sim.bench.learning.study import Study


COMMANDS = "s skip it, u undo the last, e end"


def ask_until_settled(form: Form, readings: list[Reading]) -> list[Reading]:
    """Ask until no reading tells more, or the user ends."""
    page, taken = Page(), list(readings)
    skipped: set[tuple[Positions, int, int]] = set()
    while True:
        found = study(form.subject, taken, form.plastic, frozenset(skipped))
        agree = len(found.matches)
        page.line(f"{len(taken)} readings; {agree} wirings of the library agree.")
        print_next(page, found)
        if found.next is None:
            return taken
        said = _one(page)
        if said == "e":
            return taken
        if said == "s":
            skipped.add((found.next.positions, found.next.a, found.next.b))
        elif said == "u":
            if taken:
                taken.pop()
            else:
                page.line("There is no reading to undo.")
        else:
            taken.append(_reading(form, len(taken) + 1, found.next, said))


def _one(page: Page) -> str:
    while True:
        page.line()
        page.line(f"Answer {HELP_METER}. Or {COMMANDS}.")
        said = answer("> ")
        if said is None or said in ("e", "end"):
            return "e"
        if said in ("", "s", "skip"):
            return "s"
        if said in ("u", "undo"):
            return "u"
        said = METER_LETTERS.get(said, said)
        if meter_outcomes(number_or_word(said)) is not None:
            return said
        page.line(f"Expected {HELP_METER}, got {said[:40]!r}.")


def _reading(form: Form, number: int, ask: NextPair, said: str) -> Reading:
    value = number_or_word(said)
    word = value if isinstance(value, str) else f"{value:g} ohm"
    one, other = form.subject.places[ask.a], form.subject.places[ask.b]
    words = setting_words(form.subject, ask.positions)
    text = f"{one.number}-{other.number} ({one.name}, {other.name}); {words}: {word}"
    allows = meter_outcomes(value) or frozenset()
    return Reading(
        number, Probe("meter", ask.a, ask.b, ask.positions, BENCH), word, allows, text
    )


EXAMPLE_OWN: dict[str, Any] = {
    "end": [
        {"name": "points", "outward": "west"},
        {"name": "through", "outward": "east"},
        {"name": "diverging", "outward": "east"},
    ],
    "lever": [{"name": "lever", "positions": ["through", "diverging"]}],
    "route": [
        {"from": "points", "to": leg, "length_mm": 120.0, "needs": {"lever": leg}}
        for leg in ("through", "diverging")
    ],
}


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    parser.add_argument(
        "form", nargs="?", metavar="FORM", help="a reading form (TOML), filled in or not"
    )
    parser.add_argument(
        "--blank",
        action="store_true",
        help="print a blank form: of the piece that FORM describes, or of --kind",
    )
    parser.add_argument(
        "--kind", metavar="KIND", help="with --blank: a kind of the library, or 'own piece'"
    )
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="with --kind: a parameter of its shape, such as gauge_mm=9 or length_mm=400",
    )
    parser.add_argument(
        "--ask", action="store_true", help="ask for one reading after the other at the terminal"
    )
    parser.add_argument(
        "--save", metavar="FILE", help="write the blank or filled-in form to this file"
    )
    parser.add_argument(
        "--piece", metavar="FILE", help="write the learned piece to this file (TOML)"
    )
    parser.add_argument(
        "--wiring",
        metavar="N",
        type=int,
        help="with --piece: write wiring N of the page, even where a library piece agrees",
    )
    parser.add_argument(
        "--models",
        metavar="N",
        type=options.whole_number(1, 1000),
        help="list so many wirings that agree, the simplest first (default 12); those of the "
        "library are listed besides",
    )
    parser.add_argument(
        "--json", metavar="PATH", help="write what was learned as JSON; - is standard output"
    )


def run(given: argparse.Namespace) -> int:
    """Print a blank form, or learn from a filled-in one."""
    _check(given)
    if given.blank:
        return _blank(given)
    from sim.bench.learning.form import load_form
    from sim.bench.learning.study import MODELS_AT_MOST, study

    file, form = load_form(given.form)
    readings = list(form.readings)
    if given.ask:
        readings = ask_until_settled(form, readings)
        if given.save is not None:
            from sim.bench.learning.form import blank_form

            frame.write_text("--save", given.save, blank_form(file, readings))
    found = study(
        form.subject, readings, form.plastic, models_at_most=given.models or MODELS_AT_MOST
    )
    more = [] if given.models is None else ["--models", str(given.models)]
    again = shlex.join(["gapwright", "learn", given.save or given.form, *more])
    from sim.pages.learn import learn_document, print_learn

    if given.piece is not None:
        _write_piece(given, form, found)
    name = Path(given.form).name
    frame.give(
        given,
        lambda page: print_learn(page, found, again),
        lambda: learn_document(name, shlex.join(["gapwright", "learn", name, *more]), found),
    )
    return DONE


def _check(given: argparse.Namespace) -> None:
    given.scenario = given.form or "."
    frame.check_json_path(given)
    if given.form is None and not (given.blank and given.kind):
        raise UsageError("expected a reading form, or --blank --kind KIND for a new one")
    if given.form is not None and given.kind is not None:
        raise UsageError("--kind: expected no form beside it, as the form says its kind")
    if (given.kind is not None or given.set) and not given.blank:
        raise UsageError("--kind and --set: expected --blank too")
    if given.save is not None and not (given.ask or given.blank):
        raise UsageError("--save: expected --ask or --blank too")
    if given.blank and (given.ask or given.piece or given.json or given.models):
        raise UsageError(
            "--blank: expected neither --ask nor --piece, --models or --json beside it"
        )
    if given.ask and given.json == "-":
        raise UsageError("--json: expected a file where --ask is given, got '-'")
    if given.wiring is not None and given.piece is None:
        raise UsageError("--wiring: expected --piece too")


def _blank(given: argparse.Namespace) -> int:
    from sim.bench.learning.form import blank_form, load_form

    if given.form is not None:
        file, form = load_form(given.form)
        text = blank_form(file, form.readings)
    else:
        text = _blank_of_kind(given)
    frame.write_text("--save", given.save or "-", text)
    return DONE


def _blank_of_kind(given: argparse.Namespace) -> str:
    """The form of ``--kind``. Raises :class:`UsageError` for a kind or shape that is none."""
    from sim.bench.learning.form import blank_form
    from sim.scenario.problems import ReadingsError

    try:
        return blank_form(_new(given))
    except ReadingsError as error:
        raise UsageError(
            "; ".join(
                f"{'--kind' if p.where == 'kind' else f'--set {p.where}'}: expected "
                f"{p.expected}, got {p.found}"
                for p in error.problems
            )
        ) from None


def _new(given: argparse.Namespace) -> FormFile:
    """A form of a kind and the parameters of ``--set``."""
    from sim.bench.learning.form import OWN_KIND, FormFile
    from sim.scenario.load import frozen

    params: dict[str, Any] = {"gauge_mm": 9.0}
    for text in given.set:
        name, equals, value = text.partition("=")
        if not equals or not name:
            raise UsageError(f"--set: expected NAME=VALUE, got {text[:60]!r}")
        params[name] = _value(value)
    data: dict[str, Any] = {"format": 1, "kind": given.kind, "params": params}
    if given.kind == OWN_KIND:
        data |= EXAMPLE_OWN
    return FormFile.model_validate(frozen(data))


def _value(text: str) -> object:
    try:
        value = json.loads(text)
    except (ValueError, RecursionError):
        return text
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _write_piece(given: argparse.Namespace, form: Form, found: Study) -> None:
    from sim.bench.learning.piece import of_library, piece_file, piece_of

    count = len(found.models)
    if given.wiring is not None and not 1 <= given.wiring <= count:
        raise UsageError(f"--wiring: expected a number from 1 to {count}, got {given.wiring}")
    note = f"wiring learned from {len(found.readings)} readings"
    if not found.settled:
        note += ", not settled: other wirings would agree too"
    if given.wiring is None and len(found.matches) == 1:
        piece = of_library(form.subject, found.matches[0].variants[0], note)
    else:
        model = found.models[(given.wiring or 1) - 1]
        left_out = [r.text for r in found.readings if r.number in model.wrong]
        if left_out:
            note += f"; left out as wrong: {', and '.join(left_out)}"
        piece = piece_of(form.subject, model.learned, form.plastic, note)
    frame.write_text("--piece", given.piece, piece_file(piece))
