"""``locate`` and ``learn`` as commands: files, the terminal, bad input."""

from __future__ import annotations

import io
import json
import random
from pathlib import Path

import pytest

from sim.bench.learning.subject import subject_of_kind
from sim.command.main import main
from tests.checked import scenario_from_text
from tests.learn.simulated import truth

LOOPS = "tests/command/loops.toml"
BAD = [
    ("", "format"),
    ("format = 1\nfix = 3", "fix"),
    ("format = 1\n[[reading]]\nfrom = 'a'\nto = 'b'\nread = 'open'", "reading[0].from"),
    ("format = 1\n[odds]\nnothing = 0.5", "odds"),
    ("format = 1\n[odds]\n'contact open' = 1.5", "odds"),
    ("format = 1\n[[train]]\nroute = 'x'\nsaw = 'stalls'", "train[0].route"),
    ("format = 1\n[[train]]\nroute = 'x'\nsaw = 'flies'", "train[0].saw"),
    ("\x00", "file"),
    ("format = [" * 400, "file"),
]


def run(*words: str) -> int:
    return main(list(words))


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch) -> object:
    def type_in(*lines: str) -> None:
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(line + "\n" for line in lines)))

    return type_in


def document(path: Path) -> dict[str, object]:
    found: dict[str, object] = json.loads(path.read_text(encoding="utf-8"))
    return found


@pytest.mark.parametrize(("text", "where"), BAD)
def test_bad_files_of_readings_are_told(
    text: str, where: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "readings.toml"
    file.write_text(text, encoding="utf-8")
    assert run("locate", LOOPS, "--readings", str(file)) == 1
    said = capsys.readouterr().err
    assert where in said and "expected" in said and "Traceback" not in said


@pytest.mark.parametrize("seed", range(20))
def test_noise_in_a_file_of_readings_is_never_a_traceback(seed: int, tmp_path: Path) -> None:
    rng = random.Random(seed)
    good = (
        "format = 1\n[[reading]]\nfrom = 'east/A/north'\nto = 'east/A/south'\n"
        "levers = {}\nwhere = 'bench'\nread = 0.3\n[[setting]]\nread = {'1-2' = 'open'}\n"
    )
    letters = list(good)
    for _ in range(rng.randint(1, 8)):
        letters[rng.randrange(len(letters))] = rng.choice("[]{}='\"\n\x000é,.-1e9")
    file = tmp_path / "noise.toml"
    file.write_text("".join(letters), encoding="utf-8")
    assert run("locate", LOOPS, "--readings", str(file)) in (0, 1)
    assert run("learn", str(file)) == 1


def test_tracing_at_the_terminal_can_be_kept_and_repeated(
    typed: object, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    kept, one, two = (tmp_path / name for name in ("kept.toml", "one.json", "two.json"))
    typed("u", "nonsense", "open", "u", "s", "0.3", "5 ohm", "e")  # type: ignore[operator]
    words = ("locate", LOOPS, "--where", "bench")
    assert run(*words, "--ask", "--save", str(kept), "--json", str(one)) == 0
    said = capsys.readouterr().out
    assert "There is no reading to undo." in said and "got 'nonsense'" in said
    assert run(*words, "--readings", str(kept), "--json", str(two)) == 0
    first, second = document(one), document(two)
    assert len(first["readings"]) == 2  # type: ignore[arg-type]
    for key in ("readings", "explanations", "take_again", "impossible"):
        assert first[key] == second[key]


ODD = (
    'format = 1\ntitle = "t"\nscale_ratio = 87\ngauge_mm = 16.5\n[[supply]]\nname = "cab"\n'
    '[[feeder]]\nname = "f"\nsupply = "cab"\nplus = \'bö "1"/p & q/SN\'\n'
    "minus = 'bö \"1\"/p & q/SS'\n[[module]]\nname = 'bö \"1\"'\n"
    '[[module.piece]]\nname = "p & q"\nkind = "turnout"\nfamily = "live frog"\n'
)


def test_a_train_that_runs_from_loop_to_loop_is_no_sign_of_a_fault(tmp_path: Path) -> None:
    """Between the gaps, 10 mm here, one rail is of each supply: engines reach past."""
    file, out = tmp_path / "readings.toml", tmp_path / "out.json"
    said = '[[train]]\nroute = "junction/scissors/A-west-B-east"\n'
    words = ("locate", "scenarios/loose-gang.toml", "--readings", str(file), "--json", str(out))
    file.write_text(f'format = 1\n{said}saw = "runs"\n', encoding="utf-8")
    assert run(*words) == 0
    assert document(out)["nothing_contradicts_sound"] is True
    file.write_text(f'format = 1\n{said}saw = "stalls"\n', encoding="utf-8")
    assert run(*words) == 0
    assert document(out)["nothing_contradicts_sound"] is False


@pytest.mark.parametrize("odd", [False, True])
def test_a_blank_file_of_readings_can_be_used_and_so_can_its_samples(
    odd: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    scenario, file = tmp_path / "s.toml", tmp_path / "readings.toml"
    scenario.write_text(ODD if odd else Path(LOOPS).read_text(encoding="utf-8"), "utf-8")
    assert run("locate", str(scenario), "--blank", "--save", str(file)) == 0
    assert run("locate", str(scenario), "--readings", str(file)) == 0
    assert "No readings yet" in capsys.readouterr().out
    text = file.read_text(encoding="utf-8")
    samples = [
        line.removeprefix("# ") if " = " in line or "[[" in line else line
        for line in text.splitlines()
    ]
    file.write_text("\n".join(samples), encoding="utf-8")
    out = tmp_path / "out.json"
    assert run("locate", str(scenario), "--readings", str(file), "--json", str(out)) == 0
    assert len(document(out)["readings"]) == 3  # type: ignore[arg-type]
    assert run("locate", str(scenario), "--blank", "--ask") == 2


def test_the_end_of_the_input_ends_the_asking(
    typed: object, capsys: pytest.CaptureFixture[str]
) -> None:
    typed()  # type: ignore[operator]
    assert run("locate", LOOPS, "--ask") == 0
    assert "The next reading that tells most" in capsys.readouterr().out


def test_equal_readings_give_equal_bytes(tmp_path: Path) -> None:
    file = tmp_path / "r.toml"
    section = scenario_from_text(Path(LOOPS).read_text(encoding="utf-8")).module[0]
    names = [f"{section.name}/{p.name}" for p in section.piece]
    file.write_text(
        f"format = 1\n[[reading]]\nfrom = '{names[0]}/west/north'\n"
        f"to = '{names[0]}/west/south'\nread = 'joined'\n",
        encoding="utf-8",
    )
    made = []
    for name in ("a.json", "b.json"):
        out = tmp_path / name
        code = run("locate", LOOPS, "--readings", str(file), "--json", str(out))
        made.append((code, out.read_bytes() if out.exists() else b""))
    assert made[0] == made[1]


def test_a_blank_form_is_filled_in_and_learned_and_its_piece_used(
    typed: object, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The whole way: blank form, asked at the terminal, piece file, scenario."""
    form, filled, piece = (tmp_path / n for n in ("form.toml", "filled.toml", "piece.toml"))
    words = ("learn", "--blank", "--kind", "turnout", "--set", "gauge_mm=9")
    assert run(*words, "--save", str(form)) == 0
    subject = subject_of_kind("turnout", {"gauge_mm": 9.0})
    said = {
        (p.a, p.b, p.positions): word for p, word in truth(subject, subject.variants[0].piece)
    }
    from sim.bench.learning.study import study
    from sim.bench.readings.model import Probe, Reading

    taken: list[Reading] = []
    answers: list[str] = []
    while (ask := study(subject, taken).next) is not None:
        word = said[ask.a, ask.b, ask.positions]
        answers.append(word)
        probe = Probe("meter", ask.a, ask.b, ask.positions, "bench")
        allows = frozenset(("joined", "tired")) if word == "joined" else frozenset(("open",))
        taken.append(Reading(len(taken) + 1, probe, word, allows))
    typed(*answers)  # type: ignore[operator]
    out = tmp_path / "out.json"
    assert run("learn", str(form), "--ask", "--save", str(filled), "--json", str(out)) == 0
    capsys.readouterr()
    assert document(out)["settled"] is True
    assert run("learn", str(filled), "--piece", str(piece), "--json", str(out)) == 0
    found = document(out)
    assert found["settled"] is True and len(found["matches"]) == 1  # type: ignore[arg-type]
    scenario = (
        'format = 1\ntitle = "t"\nscale_ratio = 160\ngauge_mm = 9\n'
        '[[piece]]\nfile = "piece.toml"\n[[supply]]\nname = "cab"\n'
        '[[feeder]]\nname = "drop"\nsupply = "cab"\nplus = "board/points/SN"\n'
        'minus = "board/points/SS"\n[[module]]\nname = "board"\n[[module.piece]]\n'
        'name = "points"\nkind = "learned turnout"\n'
    )
    (tmp_path / "s.toml").write_text(scenario, encoding="utf-8")
    assert run("check", str(tmp_path / "s.toml")) == 0


def test_groups_say_the_same_as_pairs(tmp_path: Path) -> None:
    form, out = tmp_path / "form.toml", tmp_path / "out.json"
    # A live-frog turnout: places 1 3 are SN, 2 6 are SS, all others one section.
    form.write_text(
        'format = 1\nkind = "turnout"\n[params]\ngauge_mm = 9\n'
        '[[setting]]\nlevers = { lever = "through" }\n'
        "groups = [[1, 3], [2, 6, 4, 5, 7, 8, 9, 10, 11]]\n"
        '[[setting]]\nlevers = { lever = "diverging" }\n'
        "groups = [[1, 3, 4, 5, 7, 8, 9, 10, 11], [2, 6]]\n",
        encoding="utf-8",
    )
    assert run("learn", str(form), "--json", str(out)) == 0
    found = document(out)
    assert found["settled"] is True
    assert (found["wirings_that_agree"], found["wirings_counted"]) == (1, True)
    assert [m["pieces"][0]["family"] for m in found["matches"]] == ["live frog"]  # type: ignore[index,attr-defined]


def test_wirings_that_agree_are_listed_up_to_a_stated_number(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Places 8 and 9 never read against each other, in one setting: joined or apart."""
    form, out = tmp_path / "form.toml", tmp_path / "out.json"
    form.write_text(
        'format = 1\nkind = "turnout"\n[params]\ngauge_mm = 9\n'
        '[[setting]]\nlevers = { lever = "through" }\n'
        "groups = [[1, 3], [2, 6], [4], [5], [7], [8, 9], [10], [11]]\n"
        '[[setting]]\nlevers = { lever = "diverging" }\n'
        "groups = [[1, 3], [2, 6], [4], [5], [7], [10], [11]]\n"
        "read = { "
        + ", ".join(f'"{a}-{b}" = "open"' for a in (1, 2, 4, 5, 7) for b in (8, 9))
        + ', "8-10" = "open", "9-10" = "open", "8-11" = "open", "9-11" = "open" }\n',
        encoding="utf-8",
    )
    assert run("learn", str(form), "--json", str(out)) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "Wiring 1 of 2: simplest" in printed
    assert "8-9, lever diverging: open" in printed
    assert "No other wiring agrees with every reading." in printed
    found = document(out)
    assert found["wirings_that_agree"] == 2
    told = found["models"][1]["told_from_first"]  # type: ignore[index]
    assert told == {"levers": {"lever": "diverging"}, "places": [8, 9], "joined": False}
    assert run("learn", str(form), "--models", "1", "--json", str(out)) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "Wiring 1 of 2: simplest" in printed
    assert len(document(out)["models"]) in (1, 2)  # type: ignore[arg-type]
    assert run("learn", str(form), "--models", "0") == 2


@pytest.mark.parametrize(
    "words",
    [
        ("learn",),
        ("learn", "--blank"),
        ("learn", "x.toml", "--kind", "turnout"),
        ("learn", "x.toml", "--save", "y.toml"),
        ("learn", "--blank", "--kind", "turnout", "--set", "gauge"),
        ("learn", "--blank", "--kind", "turnout", "--set", "gauge_mm=-4"),
        ("learn", "--blank", "--kind", "bridge"),
        ("learn", "x.toml", "--wiring", "1"),
        ("locate", LOOPS, "--save", "x.toml"),
        ("locate", LOOPS, "--ask", "--json", "-"),
    ],
)
def test_unusable_arguments_are_told(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(*words) == 2
    assert "expected" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("change", "where"),
    [
        ('"1-2" = "maybe"', "setting[0].read.1-2"),
        ('"1-99" = "open"', "setting[0].read"),
        ('"1" = "open"', "setting[0].read"),
    ],
)
def test_bad_entries_of_a_form_are_told(
    change: str, where: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    form = tmp_path / "form.toml"
    form.write_text(
        'format = 1\nkind = "turnout"\nplastic = [40]\n[params]\ngauge_mm = 9\n'
        '[[place]]\nnumber = 1\nat = "elsewhere"\n'
        '[[setting]]\nlevers = { lever = "sideways" }\n'
        f"[[setting]]\nlevers = {{}}\n[setting.read]\n{change}\n",
        encoding="utf-8",
    )
    assert run("learn", str(form)) == 1
    said = capsys.readouterr().err
    for expected in (where.replace("[0]", "[1]"), "place[0]", "plastic", "setting[0].levers"):
        assert expected in said
