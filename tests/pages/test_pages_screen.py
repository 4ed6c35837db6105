"""A page is one screen where it is not asked for in full."""

from __future__ import annotations

import io

import pytest

from sim.pages.page import AGAIN, SCREEN_LINES, NoPartError, Page, slug


def page(*lengths: int) -> tuple[Page, io.StringIO]:
    """A kept page with an answer of two lines and parts of so many lines."""
    file = io.StringIO()
    made = Page(file, 80, kept=True)
    made.line("The answer.")
    made.line("More of it.")
    for number, length in enumerate(lengths):
        made.heading(f"Part {number}", f"part-{number}")
        for k in range(length - 2):  # an empty line and the heading are two of them
            made.line(f"line {k} of {number}")
    made.heading("To get it again", AGAIN)
    made.line("gapwright run file")
    return made, file


def test_a_short_page_is_printed_whole_and_names_no_parts() -> None:
    made, file = page(10, 10)
    made.give()
    whole, other = page(10, 10)
    whole.give(full=True)
    assert file.getvalue() == other.getvalue()
    assert "--part" not in file.getvalue()


def test_what_has_no_room_is_named_and_what_comes_after_may_still_have_some() -> None:
    made, file = page(30, 40, 10)
    made.give()
    text = file.getvalue()
    assert text.count("\n") <= SCREEN_LINES
    assert text.startswith("The answer.\nMore of it.\n")
    assert "Part 0" in text and "Part 2" in text and "Part 1" not in text
    assert "gapwright run file" in text
    assert text.splitlines()[-1] == "More with --part NAME: part-1; or all with --full."


def test_one_part_stands_under_the_first_line() -> None:
    made, file = page(30, 40)
    made.give(part="part-1")
    lines = file.getvalue().splitlines()
    assert lines[0] == "The answer."
    assert lines[2:4] == ["Part 1", "line 0 of 1"]
    assert len(lines) == 41


def test_a_part_that_is_not_there_is_refused_with_those_that_are() -> None:
    made, _ = page(5)
    with pytest.raises(NoPartError) as caught:
        made.give(part="elsewhere")
    assert caught.value.known == ("part-0", AGAIN)


def test_a_part_is_called_by_the_first_words_of_its_heading() -> None:
    assert slug("Hazards of the work") == "hazards-of-the"
    assert slug("Stalls: 3 (all at once)") == "stalls"
