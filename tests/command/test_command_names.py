"""Every name that ``check`` accepts goes through every command that reads a scenario."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.command.main import main
from sim.scenario.fields import is_name

#: What is named in the scenario below; what must differ has different names.
NAMED = (
    "west", "east", "board", "one", "two", "piece", "cab", "cab2", "loop", "loop2",
    "feed", "feed2", "train", "engine", "fix", "fix2",
)  # fmt: skip
LONGEST = 80


def scenario(names: dict[str, str]) -> str:
    """Two loops on three boards, the middle one passing nothing on: there is a cure."""

    def q(*keys: str) -> str:
        return json.dumps("/".join(names.get(k, k) for k in keys), ensure_ascii=False)

    n = SimpleNamespace(**{k: q(k) for k in NAMED})
    text = 'format = 1\ntitle = "Names"\nscale_ratio = 160\ngauge_mm = 9\n'
    loops = (("A", "one", n.cab, n.loop, n.feed), ("B", "two", n.cab2, n.loop2, n.feed2))
    for rail, piece, cab, loop, feed in loops:
        places = ", ".join(
            (q("west", piece, "*"), q("east", piece, "*"), q("board", "piece", f"{rail}-*"))
        )
        text += (
            f"[[supply]]\nname = {cab}\n[[district]]\nname = {loop}\nsupply = {cab}\n"
            f"sections = [{places}]\n[[feeder]]\nname = {feed}\nsupply = {cab}\n"
            f"plus = {q('west', piece, 'north')}\nminus = {q('west', piece, 'south')}\n"
        )
    for module in (n.west, n.east):
        text += f"[[module]]\nname = {module}\n"
        for piece in (n.one, n.two):
            text += f'[[module.piece]]\nname = {piece}\nkind = "straight"\nlength_mm = 310\n'
    inner = ("A-inner-west", "A-inner-east")
    return text + (
        f"[[module]]\nname = {n.board}\nlength_mm = 620\n[[module.piece]]\nname = {n.piece}\n"
        'kind = "scissors crossover"\ntrack_centres_mm = 33\nlength_mm = 310\ngangs = "all"\n'
        f"[[line]]\nmodules = [{n.west}, {n.board}, {n.east}]\n"
        f"[[train]]\nname = {n.train}\nat = {q('west', 'one')}\nplace_mm = 200\n"
        'speed = "20 mph"\norders = [{ do = "run", to = ' + q("east", "one") + " }]\n"
        f"[[train.vehicle]]\nname = {n.engine}\nlength_mm = 60\npickups_mm = [8, 52]\n"
        'motor = { speed = "20 mph", at_voltage_v = 8 }\n[run]\nduration_s = 30\n'
        f"[[fix]]\nname = {n.fix}\n[[fix.jumper]]\n"
        + "\n".join(
            f"{key} = {q('board', 'piece', s)}"
            for key, s in zip(("from", "to"), inner, strict=True)
        )
        + f"\n[[fix]]\nname = {n.fix2}\nclean = [{q('board', 'piece', '*')}]\n"
    )


def commands(names: dict[str, str], folder: Path) -> list[tuple[str, ...]]:
    """Every command that reads a scenario, the quick ones first."""
    file, fix = str(folder / "s.toml"), f"--fix={names['fix']}"
    piece = f"{names['board']}/{names['piece']}"
    return [
        ("states", file, fix),
        ("run", file, fix, "--records", str(folder / "run.csv")),
        ("volts", file, fix),
        ("odds", file, fix),
        ("faults", file, fix),
        ("netlist", file, fix, f"--setting={piece}/all=diverging"),
        ("netlist", file, f"--load={piece}/A-outer,{piece}/B-outer=7.5"),
        ("locate", file, fix),
        ("locate", file, "--blank", "--save", str(folder / "readings.toml")),
        ("locate", file, "--readings", str(folder / "readings.toml")),
        ("card", file, f"--module={names['board']}", fix),
        (
            "seek",
            file,
            "--settings",
            "gangs",
            "--sizes",
            "every",
            "--out",
            str(folder / "f.toml"),
        ),
        ("weigh", file, "--runs", "2", "--workers", "1"),
        ("compare", file, "--runs", "2", "--workers", "1"),
        ("campaign", file, "--runs", "2", "--workers", "1", "--keep", str(folder / "kept")),
        ("worksheet", file, fix, "--out", str(folder / "w.html")),
        ("picture", file, fix, "--out", str(folder / "p.svg")),
        ("report", file, "--runs", "2", "--workers", "1", "--out", str(folder / "r.html")),
    ]


def go_through(
    names: dict[str, str], folder: Path, said: Callable[[], str], certain: bool = True
) -> None:
    """All commands: each must be done, and the fixes that seek writes must be usable.

    ``certain``: ``check`` has to accept the names.
    """
    text = scenario(names)
    (folder / "s.toml").write_text(text, encoding="utf-8")
    code = main(["check", str(folder / "s.toml")])
    told = said()
    if code != 0:
        assert "expected" in told, names
        assert not certain, (names, told)
        return
    for words in commands(names, folder):
        code = main(list(words))
        assert code == 0, (words[0], names, said())
    said()
    found = folder / "f.toml"
    whole = folder / "with.toml"
    whole.write_text(text + found.read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["check", str(whole)]) == 0, said()


def long(k: int) -> str:
    return f"{k:02d}".rjust(LONGEST, "x")


def numbered(form: str) -> dict[str, str]:
    return {key: form.format(chr(ord("a") + k)) for k, key in enumerate(NAMED)}


ALIKE = {key: "Board" if k % 2 else "board" for k, key in enumerate(NAMED)} | {
    "west": "BOARD", "cab": "Cab", "cab2": "cab", "fix": "Cure", "fix2": "cure",
    "one": "Piece", "two": "piece", "feed": "FEED", "feed2": "feed",
}  # fmt: skip
SETS: dict[str, dict[str, str]] = {
    "longest": {key: long(k) for k, key in enumerate(NAMED)},
    "shortest": numbered("{}"),
    "right to left": numbered("לוח {} ראשי"),
    "equal but for case": ALIKE,
    "of the program itself": dict(
        zip(
            NAMED,
            ("layout", "east neighbour", "west neighbour", "bench", "x", "points",
             "one supply", "one supply east", "cab", "as built", "feed east neighbour bench",
             "bench feed", "found 1", "none", "altered for the search", "found 1 feeder"),
            strict=True,
        )
    ),
    "marks": numbered('-{} "<&>\' %s {{0}} $x; #=,+\\'),
}  # fmt: skip
QUICK = ("longest", "of the program itself")


@pytest.mark.parametrize(
    "which", [k if k in QUICK else pytest.param(k, marks=pytest.mark.slow) for k in SETS]
)
def test_names_of_many_kinds_go_through_every_command(
    which: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert all(is_name(name) for name in SETS[which].values())
    go_through(SETS[which], tmp_path, lambda: "".join(capsys.readouterr()))


@pytest.mark.slow
@given(data=st.data())
@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_any_name_goes_through_every_command(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    letters = st.text(st.characters(exclude_categories=("Cs", "Cc")), min_size=1, max_size=80)
    names = data.draw(
        st.lists(letters.filter(is_name), min_size=len(NAMED), max_size=len(NAMED), unique=True)
    )
    out, err = io.StringIO(), io.StringIO()
    monkeypatch.setattr("sys.stdout", out)
    monkeypatch.setattr("sys.stderr", err)
    go_through(
        dict(zip(NAMED, names, strict=True)), tmp_path_factory.mktemp("names"),
        lambda: (out.getvalue() + err.getvalue())[-2000:], certain=False,
    )  # fmt: skip
