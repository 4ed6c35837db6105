"""``gapwright faults``: what dies, shorts or joins when something fails."""

from __future__ import annotations

import argparse

from sim.command import frame, options
from sim.command.frame import DONE

RESULT_DEPENDS_ON = ("fix", "depth", "levers")


def configure(parser: argparse.ArgumentParser) -> None:
    """Add the arguments."""
    options.add_scenario(parser)
    options.add_fix(parser)
    parser.add_argument(
        "--depth",
        type=options.whole_number(1, 2),
        default=1,
        metavar="1|2",
        help="every single fault (1, default), or also every two at once (2)",
    )
    options.add_levers(parser)
    options.add_json(parser, "the faults")


def run(given: argparse.Namespace) -> int:
    """Print the faults by the harm that they do, and what fixes change."""
    project = frame.read(given)
    case = project.case(frame.fix_of(given, project))
    from sim.analyses.survey.harm import changes
    from sim.analyses.survey.survey import survey
    from sim.analyses.survey.tired import tired_changes, tired_survey
    from sim.command.progress import Bar
    from sim.pages.faults import faults_document, print_faults

    each = given.levers == "each"
    with Bar("Tracing") as bar:
        found = survey(case, given.depth, each, bar.show)
        ohm = project.scenario.assumptions.tired_ohm
        tired = tired_survey(case, ohm, each)
        if case.fix is None:
            cases = project.cases()[1:]
            fixes = [changes(found, survey(c, 1, each)) for c in cases]
            starts = [tired_changes(tired, tired_survey(c, ohm, each)) for c in cases]
        else:
            built = project.case()
            fixes = [changes(survey(built, 1, each), found)]
            starts = [tired_changes(tired_survey(built, ohm, each), tired)]
    again = frame.command_line(given, RESULT_DEPENDS_ON, given.scenario)
    frame.give(
        given,
        lambda page: print_faults(page, found, fixes, tired, starts, again),
        lambda: faults_document(
            frame.asked(given, found.scenario, RESULT_DEPENDS_ON), found, fixes, tired, starts
        ),
    )
    return DONE
