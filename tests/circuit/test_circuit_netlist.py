"""Netlists, and what another program makes of them."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sim.circuit.netlist import netlist
from sim.circuit.network import Network, build_network
from sim.circuit.nodal import Resistance
from sim.circuit.voltage_drop import solve_network
from sim.command.main import main
from sim.layout.assemble import assemble
from sim.power.poles import sources_of
from tests.checked import read_scenario

ROOT = Path(__file__).parents[2]
LOOPS = ROOT / "tests" / "command" / "loops.toml"
CLUB = ROOT / "scenarios" / "club-loops.toml"
NGSPICE = shutil.which("ngspice")
#: Volts and amps below this are not compared: rounding of 12 V over milliohms.
FLOOR = 1e-7

needs_ngspice = pytest.mark.skipif(
    NGSPICE is None, reason="ngspice (the Debian package) is not installed here"
)


def solved_elsewhere(text: str, folder: Path) -> dict[str, float]:
    """Operating point by ngspice, tolerances tightened: node and current by name."""
    control = (
        ".options reltol=1e-12 abstol=1e-15 vntol=1e-15 gmin=1e-15\n"
        ".control\nset numdgt=15\nset width=200\nop\nprint all\n.endc\n.end\n"
    )
    file = folder / "state.cir"
    file.write_text(text.replace(".end\n", control), encoding="utf-8")
    assert NGSPICE is not None
    done = subprocess.run(
        [NGSPICE, "-b", str(file)], capture_output=True, text=True, timeout=60, check=False
    )
    found = re.findall(r"^(\S+) = (\S+)$", done.stdout, flags=re.MULTILINE)
    assert found, done.stdout + done.stderr
    return {name.lower(): float(value) for name, value in found}


def compare(
    network: Network, closed: list[int], load: tuple[int, int, float], folder: Path
) -> None:
    a, b, ohm = load
    text = netlist(network, closed, "a test", [("load", a, b, ohm)])
    other = solved_elsewhere(text, folder)
    volts = [s.volts for s in sources_of(network.layout.supplies)]
    ours = solve_network(
        network, closed, volts, [True] * len(volts), {}, [Resistance(a, b, ohm)]
    )
    head: dict[int, int] = {}
    for node, island in enumerate(ours.island):
        first = head.setdefault(island, node)
        mine = ours.volts[node] - ours.volts[first]
        theirs = other[f"v({node + 1})"] - other[f"v({first + 1})"]
        assert theirs == pytest.approx(mine, rel=1e-6, abs=FLOOR)
    for s, amps in enumerate(ours.source_a):
        assert -other[f"v{s + 1}#branch"] == pytest.approx(float(amps), rel=1e-6, abs=FLOOR)


@needs_ngspice
@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_any_state_is_solved_alike(data: st.DataObject, tmp_path: Path) -> None:
    network = build_network(assemble(read_scenario(LOOPS)).layout)
    contacts = [network.branches[b].element for b in sorted(network.contacts)]
    closed = data.draw(st.lists(st.sampled_from(contacts), unique=True))
    stations = network.stations()
    pair = data.draw(st.lists(st.sampled_from(stations), min_size=2, max_size=2, unique=True))
    ohm = data.draw(st.sampled_from([0.01, 1.0, 7.5, 100.0]))
    compare(network, closed, (pair[0], pair[1], ohm), tmp_path)


@needs_ngspice
@pytest.mark.slow
@pytest.mark.parametrize("fix", [None, "two jumpers", "four jumpers"])
def test_demo_is_solved_alike(fix: str | None, tmp_path: Path) -> None:
    layout = assemble(read_scenario(CLUB), fix).layout
    network = build_network(layout)
    closed = [
        e for e, x in enumerate(layout.elements) if x.kind == "contact" and "through" in x.id
    ]
    stations = network.stations()
    compare(network, closed, (stations[0], stations[-1], 7.5), tmp_path)


def test_it_says_what_everything_is(capsys: pytest.CaptureFixture[str]) -> None:
    words = ["netlist", str(LOOPS), "--setting", "board/scissors/X1=diverging"]
    words += ["--load", "west/A/north,west/A/south=7.5", "--open", "west/A/joiner-east-north"]
    assert main(words) == 0
    text = capsys.readouterr().out
    assert text.startswith("* Two loops on one feed, as built\n")
    assert text.endswith(".op\n.end\n")
    assert "board/scissors/AW-diverging" in text
    assert "board/scissors/AW-through" not in text
    assert "west/A/joiner-east-north" not in text
    assert "RL1 " in text
    names = re.findall(r"^([RV]\w+) ", text, flags=re.MULTILINE)
    assert len(names) == len(set(names))


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--setting", "board/scissors/X9=through"], "expected a lever or gang"),
        (["--setting", "board/scissors/X1=sideways"], "expected a position of"),
        (["--open", "nothing"], "expected an element"),
        (["--load", "west/A/north=7.5"], "expected two sections"),
        (["--load", "west/A/north,west/A/south=-1"], "a resistance above 0"),
        (["--output", "/no/such/place/at/all"], "cannot write"),
    ],
)
def test_unusable_arguments(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["netlist", str(LOOPS), *words]) == 2
    assert says in capsys.readouterr().err


def test_written_to_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "state.cir"
    assert main(["netlist", str(LOOPS), "--output", str(file)]) == 0
    assert capsys.readouterr().out == ""
    assert file.read_text("utf-8").endswith(".end\n")


def test_the_document_tells_what_the_numbers_stand_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    setting = "west throat/points/lever=diverging"
    argv = ["netlist", str(ROOT / "scenarios" / "well-fed.toml"), "--setting", setting]
    assert main(argv) == 0
    text = capsys.readouterr().out
    assert main([*argv, "--json", "-"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["netlist"] == text
    assert told["levers"] == {
        "west throat/points/lever": "diverging",
        "east throat/points/lever": "through",
    }
    assert told["command"].endswith(f"--setting '{setting}'")
    assert sorted(told["nodes"].values()) == list(range(1, len(told["nodes"]) + 1))
