"""Reading good files, and what is told of bad ones: where, expected, found."""

from __future__ import annotations

from pathlib import Path

import pytest

from sim.scenario.load import BYTES_AT_MOST
from sim.scenario.problems import Problem, ScenarioError
from tests.checked import check_scenario, read_scenario, scenario_from_text
from tests.scenario.texts import BRANCH, FILES, HEAD, LOOPS, ONE, TRAIN

LENGTHS = "a length in mm, or text such as '310 mm', '3.2 cm', '2 m', '12 in', '1.5 ft'"


def problems_in(text: str, folder: Path) -> list[Problem]:
    path = folder / "s.toml"
    path.write_text(text, "utf-8")
    return check_scenario(path)


def errors_in(text: str, folder: Path) -> list[tuple[str, str, str]]:
    found = problems_in(text, folder)
    return [(p.where, p.expected, p.found) for p in found if p.severity == "error"]


def test_the_example_reads() -> None:
    scenario = read_scenario(FILES / "loops.toml")
    assert scenario.title == "Two loops and a scissors"
    assert scenario.fix_names == ("two jumpers", "feeder lengths")
    assert scenario.module[0].piece[0].params == {
        "track_centres_mm": 33,
        "length_mm": "31 cm",
        "family": "live frog",
    }
    assert scenario.bus[0].length == 2000.0


def test_the_example_is_told_what_does_not_fit() -> None:
    # common practice, no source: two added 62 mm lengths make 434 mm of a 310 mm board
    found = check_scenario(FILES / "loops.toml")
    assert found == [
        Problem(
            "fix 'feeder lengths': module[0].length_mm",
            "pieces that fit the 310 mm of 'board'",
            "434 mm, 124 mm over",
            "warning",
            line=33,
        )
    ]


#: (what is wrong, text, its one problem)
BAD: list[tuple[str, str, tuple[str, str, str]]] = [
    ("no title", ONE.replace('title = "test"', ""), ("title", "a value", "nothing")),
    ("format", ONE.replace("format = 1", "format = 2"), ("format", "1", "2")),
    ("format is true", ONE.replace("format = 1", "format = true"), ("format", "1", "true")),
    (
        "unknown key",
        ONE.replace("plus =", "pluss ="),
        ("feeder[0].plus", "a value", "nothing"),
    ),
    (
        "ratio below 0",
        ONE.replace("scale_ratio = 160", "scale_ratio = -1"),
        ("scale_ratio", "a number above 0", "-1"),
    ),
    (
        "ratio is not a number",
        ONE.replace("scale_ratio = 160", "scale_ratio = nan"),
        ("scale_ratio", "a finite number", "nan"),
    ),
    (
        "name with a slash",
        ONE + '[[district]]\nname = "a/b"\nsupply = "cab"\nsections = ["*"]\n',
        (
            "district[0].name",
            "a name of 1 to 80 printable characters, without / * ? [ ] and without a space at "
            "its ends",
            "'a/b'",
        ),
    ),
    (
        "probability",
        ONE + "[assumptions]\nlever_fails = 1.5\n",
        ("assumptions.lever_fails", "a number of at most 1", "1.5"),
    ),
    (
        "negative board",
        ONE.replace('name = "one"', 'name = "one"\nlength_mm = -310'),
        ("module[0].length_mm", "a length of more than 0 mm and at most 1000000 mm", "-310"),
    ),
    (
        "length with a wrong unit",
        ONE.replace('name = "one"', 'name = "one"\nlength_mm = "3 miles"'),
        ("module[0].length_mm", LENGTHS, "'3 miles'"),
    ),
    (
        "kind misspelt",
        ONE.replace('"straight"', '"strait"'),
        ("module[0].piece[0].kind", "a kind of piece (did you mean 'straight'?)", "'strait'"),
    ),
    (
        "parameter misspelt",
        ONE.replace("length_mm = 200", "length_mm = 200\nlenght_mm = 3"),
        (
            "module[0].piece[0].lenght_mm",
            "a known key (did you mean 'length_mm'?)",
            "unknown key 'lenght_mm'",
        ),
    ),
    (
        "parameter below 0",
        ONE.replace("length_mm = 200", "length_mm = -200"),
        ("module[0].piece[0].length_mm", "a number above 0", "-200"),
    ),
    (
        "parameter with a wrong unit",
        ONE.replace("length_mm = 200", 'length_mm = "2 hm"'),
        ("module[0].piece[0].length_mm", LENGTHS, "'2 hm'"),
    ),
    (
        "unknown supply",
        ONE.replace('supply = "cab"', 'supply = "cub"'),
        ("feeder[0].supply", "a supply (did you mean 'cab'?)", "'cub'"),
    ),
    (
        "unknown section",
        ONE.replace('"one/P/north"', '"one/P/nort"'),
        (
            "feeder[0].plus",
            "the id of a section or pad (did you mean 'one/P/north'?)",
            "'one/P/nort'",
        ),
    ),
    (
        "two sources",
        ONE.replace('supply = "cab"', 'supply = "cab"\nbus = "b"'),
        (
            "feeder[0]",
            "either 'supply' or 'bus', and not both",
            "a table with name, supply, bus, plus, minus",
        ),
    ),
    (
        "module twice",
        ONE + ONE[ONE.index("[[module]]") :],
        ("module[1].name", "a name that no other module has", "'one'"),
    ),
    (
        "piece twice",
        ONE + '[[module.piece]]\nname = "P"\nkind = "straight"\nlength_mm = 20\n',
        ("module[0].piece[1].name", "a name that no other piece of the module has", "'P'"),
    ),
    (
        "supply twice",
        ONE + '[[supply]]\nname = "cab"\n',
        ("supply[1].name", "a name that no other supply or bus has", "'cab'"),
    ),
    (
        "line of an unknown module",
        ONE + '[[line]]\nmodules = ["one", "oen"]\n',
        ("line[0].modules[1]", "a module (did you mean 'one'?)", "'oen'"),
    ),
    (
        "track counts",
        ONE + BRANCH + '[[line]]\nmodules = ["fork", "one"]\nring = true\n'
        '[[module]]\nname = "two"\n'
        '[[module.piece]]\nname = "A"\nkind = "straight"\nlength_mm = 9\n'
        '[[module.piece]]\nname = "B"\nkind = "straight"\nlength_mm = 9\n'
        '[[line]]\nmodules = ["two", "three"]\n'
        '[[module]]\nname = "three"\n'
        '[[module.piece]]\nname = "A"\nkind = "straight"\nlength_mm = 9\n',
        (
            "line[1].modules[1]",
            "as many tracks, and at least one, as 'two' has there: 2",
            "1 at 'three'",
        ),
    ),
    (
        "end joined to itself",
        ONE + '[[join]]\na = "one/P/west"\nb = "one/P/west"\n',
        ("join[0]", "two different ends", "'one/P/west' twice"),
    ),
    (
        "end joined twice",
        ONE + BRANCH + '[[join]]\na = "one/P/west"\nb = "fork/main/west"\n',
        (
            "join[0]",
            "an end that is not joined yet",
            "'fork/main/west', joined to 'fork/T/through'",
        ),
    ),
    (
        "buffer stop joined",
        ONE + BRANCH + '[[join]]\na = "one/P/west"\nb = "fork/side/buffer"\n',
        (
            "join[0]",
            "an end that track can be joined to",
            "'fork/side/buffer', a buffer stop",
        ),
    ),
    (
        "join to nowhere",
        ONE + '[[join]]\na = "one/P/west"\nb = "one/P/eats"\n',
        (
            "join[0].b",
            "an end, 'module/piece/end' (did you mean 'one/P/east'?)",
            "'one/P/eats'",
        ),
    ),
    (
        "gap at an open end",
        ONE + '[[gap]]\nat = "one/P/west"\n',
        (
            "gap[0].at",
            "an end that is joined to another",
            "'one/P/west', joined to nothing",
        ),
    ),
    (
        "odds of a contact that is not there",
        ONE.replace("length_mm = 200", "length_mm = 200\nopens = { AW = 0.1 }"),
        (
            "module[0].piece[0].opens.AW",
            "a contact of the piece: no contact in this one",
            "'AW'",
        ),
    ),
    (
        "throw of nothing",
        ONE + BRANCH + '[[throw]]\nat_s = 1\nlever = "fork/T/lver"\nto = "through"\n',
        (
            "throw[0].lever",
            "a gang, or a lever that is in none, 'module/piece/name' "
            "(did you mean 'fork/T/lever'?)",
            "'fork/T/lver'",
        ),
    ),
    (
        "throw to nowhere",
        ONE + BRANCH + '[[throw]]\nat_s = 1\nlever = "fork/T/lever"\nto = "up"\n',
        ("throw[0].to", "a position of 'fork/T/lever': 'through', 'diverging'", "'up'"),
    ),
    (
        "member of a gang",
        LOOPS + '[[throw]]\nat_s = 1\nlever = "board/scissors/AW"\nto = "through"\n',
        (
            "throw[1].lever",
            "what a hand moves: the gang 'board/scissors/all'",
            "'board/scissors/AW', which moves with that gang",
        ),
    ),
    (
        "train beyond its route",
        ONE + TRAIN.replace("place_mm = 150", "place_mm = 250"),
        ("train[0].place_mm", "a place on the route, 0 to 200 mm", "250"),
    ),
    (
        "train off the track",
        ONE + TRAIN.replace("place_mm = 150", "place_mm = 60"),
        (
            "train[0]",
            "track under all 100 mm of the train",
            "40 mm beyond the end of the track",
        ),
    ),
    (
        "two trains in one place",
        ONE + TRAIN + TRAIN.replace("local", "other").replace("150", "199"),
        ("train[1]", "trains clear of each other", "'other' where 'local' stands"),
    ),
    (
        "order to a piece on other track",
        ONE
        + BRANCH
        + TRAIN.replace("place_mm", 'orders = [{do="run", to="fork/T"}]\nplace_mm'),
        ("train[0].orders[0].to", "a piece that the train's track leads to", "'fork/T'"),
    ),
    (
        "stop beyond the piece",
        ONE
        + TRAIN.replace(
            "place_mm", 'orders = [{do="stop", on="one/P", place_mm=300}]\nplace_mm', 1
        ),
        ("train[0].orders[0].place_mm", "a place on 'one/P', 0 to 200 mm", "300"),
    ),
    (
        "crossing by a straight",
        ONE + TRAIN.replace("place_mm", 'orders = [{do="cross", at="one/P"}]\nplace_mm'),
        ("train[0].orders[0].at", "a piece with levers to cross by", "'one/P', a straight"),
    ),
    (
        "unknown order",
        ONE + TRAIN.replace("place_mm", 'orders = [{do="fly"}]\nplace_mm'),
        (
            "train[0].orders[0]",
            "one of 'circulate', 'cross', 'stop', 'run', 'wait', 'throw'",
            "a table with do",
        ),
    ),
    (
        "unknown key in an order",
        ONE + TRAIN.replace("place_mm", 'orders = [{do="circulate", lap=2}]\nplace_mm'),
        (
            "train[0].orders[0].lap",
            "a known key (did you mean 'laps'?)",
            "unknown key 'lap'",
        ),
    ),
    (
        "pickup beyond the vehicle",
        ONE + TRAIN.replace("[10, 90]", "[10, 190]"),
        (
            "train[0].vehicle[0].pickups_mm[1]",
            "a place on the vehicle, 0 to 100 mm",
            "190",
        ),
    ),
    (
        "heading",
        ONE + TRAIN.replace("place_mm", 'heading = "north"\nplace_mm'),
        ("train[0].heading", "'west' or 'east'", "'north'"),
    ),
    (
        "districts that share a rail",
        ONE + '[[district]]\nname="a"\nsupply="cab"\nsections=["one/*"]\n'
        '[[district]]\nname="b"\nsupply="cab"\nsections=["*/north"]\n',
        (
            "district[1].sections[0]",
            "sections that no other district has",
            "'one/P/north', also in 'a'",
        ),
    ),
    (
        "the reserved fix",
        ONE + '[[fix]]\nname = "as built"\n',
        (
            "fix 'as built': fix[0].name",
            "a name other than 'as built', which means no fix",
            "'as built'",
        ),
    ),
    (
        "fix with an unknown pad",
        ONE + '[[fix]]\nname="f"\n[[fix.jumper]]\nfrom="one/P/north"\nto="one/P/nrth"\n',
        (
            "fix 'f': fix[0].jumper[0].to",
            "the id of a section or pad (did you mean 'one/P/north'?)",
            "'one/P/nrth'",
        ),
    ),
    (
        "fix that cannot be built",
        ONE + '[[fix]]\nname="f"\n[[fix.alter]]\npiece="one/P"\nset={length_mm=-1}\n',
        ("fix 'f': fix[0].alter[0].set.length_mm", "a number above 0", "-1"),
    ),
    (
        "fix that cuts a gap",
        LOOPS + '[[fix]]\nname="f"\ncut=["board/scissors/gap-X1-north"]\n',
        (
            "fix 'f': fix[2].cut[0]",
            "a bond, jumper, joiner or feeder",
            "'board/scissors/gap-X1-north', a gap",
        ),
    ),
    ("no module", HEAD, ("module", "a value", "nothing")),
    ("module is text", HEAD + 'module = "x"', ("module", "a list", "'x'")),
    ("a date", ONE.replace('title = "test"', "title = 1979-05-27"),
     ("title", "text", "1979-05-27")),
]  # fmt: skip


@pytest.mark.parametrize(("text", "problem"), [b[1:] for b in BAD], ids=[b[0] for b in BAD])
def test_a_bad_file(text: str, problem: tuple[str, str, str], tmp_path: Path) -> None:
    found = errors_in(text, tmp_path)
    if problem[0].endswith("plus"):
        found = [p for p in found if p[0] == problem[0]]
    assert found == [problem]
    with pytest.raises(ScenarioError):
        read_scenario(tmp_path / "s.toml")


def test_everything_wrong_is_told_at_once(tmp_path: Path) -> None:
    """A typing error, an impossible piece, a wrong reference and a wrong fix in one file."""
    text = (
        ONE.replace('kind = "straight"', 'kind = "strait"')
        + BRANCH.replace('kind = "turnout"', 'kind = "turnout"\nfrog_number = 1')
        + '[[module]]\nname="free"\n[[module.piece]]\nname="S"\nkind="straight"\nlength_mm=5\n'
        + '[[supply]]\nname = "spare"\nvoltage_v = -3\n'
        + '[[feeder]]\nname="bad"\nsupply="nobody"\nplus="free/S/north"\nminus="free/S/suoth"\n'
        + "[run]\nduration_s = 10\ndurations = 3\n"
        + '[[fix]]\nname="f"\nreverse=["cap"]\nsolder=["x/y/z"]\n'
    )
    assert [where for where, _, _ in errors_in(text, tmp_path)] == [
        "supply[1].voltage_v",
        "run.durations",
        "module[0].piece[0].kind",
        "module[1].piece[0].frog_number",
        "feeder[1].supply",
        "feeder[1].minus",
        "fix 'f': fix[0].solder[0]",
        "fix 'f': fix[0].reverse[0]",
    ]


def test_places_are_those_of_the_file_although_bad_entries_are_put_aside(
    tmp_path: Path,
) -> None:
    text = ONE + (
        '[[feeder]]\nname = 3\nsupply="cab"\nplus="one/P/north"\nminus="one/P/south"\n'
        '[[feeder]]\nname="third"\nsupply="cab"\nplus="one/P/x"\nminus="one/P/south"\n'
    )
    assert [where for where, _, _ in errors_in(text, tmp_path)] == [
        "feeder[1].name",
        "feeder[2].plus",
    ]


def test_lines_are_told(tmp_path: Path) -> None:
    text = ONE.replace('"straight"', '"strait"').replace("scale_ratio = 160", "scale_ratio = 0")
    lines = text.split("\n")
    for problem in problems_in(text, tmp_path):
        assert problem.line is not None
        key = problem.where.rsplit(".", 1)[-1]
        assert lines[problem.line - 1].startswith(key)


def test_a_long_text_does_not_mislead_the_lines(tmp_path: Path) -> None:
    text = ONE.replace('title = "test"', 'title = """\n[[module]]\nname = "x"\n"""')
    text = text.replace('"straight"', '"strait"')
    title, problem = problems_in(text, tmp_path)
    assert text.split("\n")[(title.line or 0) - 1] == 'title = """'
    assert text.split("\n")[(problem.line or 0) - 1] == 'kind = "strait"'


@pytest.mark.parametrize(
    ("data", "expected", "found"),
    [
        (b"", "a value", "nothing"),
        (b"\xff\xfe", "text in UTF-8", "byte 0xff at offset 0"),
        (b"a = 1\n\x00", "TOML", "Invalid statement (at line 2, column 1)"),
        (b"title = [", "TOML", "Invalid value (at end of document)"),
        (b"a = " + b"[" * 100_000, "at most 12 levels of nesting", "many more"),
        (b"a = " + b"[" * 30 + b"]" * 30, "at most 12 levels of nesting", "30"),
        (b"#" * (BYTES_AT_MOST + 1), "a file of at most 4 MB", "a larger one"),
    ],
    ids=["empty", "not utf-8", "nul", "cut short", "bottomless", "deep", "large"],
)
def test_no_scenario_at_all(data: bytes, expected: str, found: str, tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_bytes(data)
    first = check_scenario(path)[0]
    assert (first.expected, first.found) == (expected, found)


def test_a_number_too_long_for_python(tmp_path: Path) -> None:
    for number in ("9" * 5000, "0x" + "f" * 5000, "1e999", "-" + "9" * 400):
        text = ONE.replace("scale_ratio = 160", f"scale_ratio = {number}")
        assert problems_in(text, tmp_path)
        text = ONE.replace("length_mm = 200", f"length_mm = {number}")
        assert problems_in(text, tmp_path)


def test_a_directory_and_a_missing_file(tmp_path: Path) -> None:
    for path, found in (
        (tmp_path, f"{tmp_path.name!r}, a directory"),
        (tmp_path / "none.toml", "no such file as 'none.toml'"),
    ):
        assert check_scenario(path) == [Problem("file", "a scenario file", found)]
    assert check_scenario(Path("bad\x00name"))


def test_a_byte_order_mark_and_line_ends_of_another_system(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_bytes(b"\xef\xbb\xbf" + ONE.replace("\n", "\r\n").encode())
    assert read_scenario(path) == scenario_from_text(ONE)


WARNINGS: list[tuple[str, str, tuple[str, str, str]]] = [
    (
        "idle supply",
        ONE + '[[supply]]\nname = "spare"\n',
        ("supply[1]", "a feeder from every supply", "'spare' feeds nothing"),
    ),
    (
        "lifted feeder",
        ONE.replace('"one/P/south"', '"one/P/south"\nconnected = false'),
        ("supply[0]", "a feeder from every supply", "'cab' feeds nothing"),
    ),
    (
        "empty district",
        ONE + '[[district]]\nname="a"\nsupply="cab"\nsections=["tow/*"]\n',
        (
            "district[0].sections[0]",
            "a section id, or a pattern that fits one",
            "'tow/*', fits nothing",
        ),
    ),
    (
        "board too short",
        ONE.replace('name = "one"', 'name = "one"\nlength_mm = 199.5'),
        (
            "module[0].length_mm",
            "pieces that fit the 199.5 mm of 'one'",
            "200 mm, 0.5 mm over",
        ),
    ),
    (
        "pad under a slide",
        LOOPS + '[[fix]]\nname="f"\n[[fix.jumper]]\nfrom="board/scissors/pad-A-mid-west-2"\n'
        'to="board/scissors/A-mid-east"\n',
        (
            "fix 'f': fix[2].jumper[0].from",
            "a pad that no moving contact slides over",
            "'board/scissors/pad-A-mid-west-2'",
        ),
    ),
    (
        "from loop to loop",
        LOOPS + '[[fix]]\nname="f"\n[[fix.jumper]]\nfrom="plain/A/south"\nto="plain/B/north"\n',
        (
            "fix 'f': fix[2].jumper[0]",
            "districts kept apart",
            "a wire from 'loop A' to 'loop B'",
        ),
    ),
    (
        "motor fed on one side",
        ONE + TRAIN.replace("pickups_mm", "pickups_left_mm"),
        (
            "train[0].vehicle",
            "a motor with pickups on both sides",
            "pickups on one side only of 'engine'",
        ),
    ),
]


@pytest.mark.parametrize(
    ("text", "warning"), [w[1:] for w in WARNINGS], ids=[w[0] for w in WARNINGS]
)
def test_a_warning(text: str, warning: tuple[str, str, str], tmp_path: Path) -> None:
    found = problems_in(text, tmp_path)
    assert warning in [(p.where, p.expected, p.found) for p in found]
    assert {p.severity for p in found} == {"warning"}
    read_scenario(tmp_path / "s.toml")  # a warning stops nobody
