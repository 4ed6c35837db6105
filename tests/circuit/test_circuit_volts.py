"""Reports of volts and coin tests, against hand-made numbers."""

from __future__ import annotations

import io
import json
from pathlib import Path

import pytest

from sim.circuit.voltage_drop import FarEnd, VoltsReport, volts_report
from sim.command.main import main
from sim.layout.assemble import assemble
from sim.layout.sources import wire_ohm
from sim.pages.documents import Asked
from sim.pages.page import Page
from sim.pages.volts import print_volts, volts_document
from tests.checked import scenario_from_text
from tests.run.plans import Plan
from tests.scenario.texts import HEAD

LOOPS = Path(__file__).parents[1] / "command" / "loops.toml"


def one_metre(**supply: object) -> Plan:
    """One rail pair of 1 m, fed in its middle through 2 m of AWG 20."""
    plan = Plan()
    plan.add("[[supply]]", name="cab", voltage_v=12.0, **supply)
    plan.piece("a", "straight", length_mm=1000.0)
    return plan.add("[[feeder]]", name="f", supply="cab", plus="a/P/north", minus="a/P/south",
                    wire="AWG 20", length="2 m")  # fmt: skip


def report(plan: Plan, fix: str | None = None) -> VoltsReport:
    return volts_report(plan.case(fix=fix))


def far_end(plan: Plan, fix: str | None = None) -> FarEnd:
    (setting,) = report(plan, fix).settings
    (end,) = setting.modules
    return end


def test_loop_resistance_by_hand() -> None:
    """AWG 20: 33.31 ohm/km (NBS Handbook 100); rail 57 mΩ/m (common practice)."""
    end = far_end(one_metre(kind="dc", internal_ohm=0.5))
    # The last cell's middle is 50 mm from the end: 450 mm from the feeder.
    ohm = 0.5 + 2 * 2.0 * 0.03331 + 2 * 0.45 * 0.057
    assert end.loop_ohm == pytest.approx(ohm, rel=1e-3)
    assert end.short_a == pytest.approx(12.0 / ohm, rel=1e-3)


@pytest.mark.parametrize(("ohm", "trips"), [(2.3, True), (2.5, False)])
def test_coin_test_limit(ohm: float, trips: bool) -> None:
    """12 V and 5 A: the loop must stay below 2.4 ohm (common practice; computed)."""
    wires = 2 * wire_ohm("awg", 20, 2000.0) + 2 * 0.45 * 0.057
    end = far_end(one_metre(kind="digital", internal_ohm=ohm - wires, trip_a=5.0))
    assert end.loop_ohm == pytest.approx(ohm, abs=1e-3)
    assert (end.trips == ("cab",)) is trips
    assert (end.weak == ("cab",)) is not trips


@pytest.mark.parametrize(("trip_a", "trips"), [(3.0, True), (4.0, False)])
def test_a_standing_short_is_told_with_its_current(trip_a: float, trips: bool) -> None:
    """A thin wire from rail to rail, 3.5 A by hand: it trips 3 A and not 4 A."""
    plan = one_metre(kind="dc", internal_ohm=0.5, trip_a=trip_a)
    plan.add("[[jumper]]", **{"from": "a/P/north", "to": "a/P/south"}, wire="AWG 30",
             length="8 m")  # fmt: skip
    (setting,) = report(plan).settings
    (short,) = setting.shorted
    ohm = 0.5 + 2 * wire_ohm("awg", 20, 2000.0) + wire_ohm("awg", 30, 8000.0)
    assert short.amps == pytest.approx(12.0 / ohm, abs=1e-3)
    assert 3.0 < short.amps < 4.0
    assert (short.supply, short.trips) == ("cab", trips)
    assert setting.sections == ()
    said = io.StringIO()
    print_volts(Page(said, 100), report(plan), (), "again")
    told = "trips." if trips else "does NOT trip: it goes on heating."
    assert f"SHORT: cab gives {short.amps:.1f} A and {told}" in said.getvalue()
    assert "SHORTED by the wiring itself in 1 of 1 setting." in said.getvalue()
    (document,) = volts_document(Asked(None, ""), report(plan))["settings"]
    assert document["shorted"] == [{"supply": "cab", "current_a": short.amps, "trips": trips}]


def test_without_a_short_none_is_told() -> None:
    assert all(s.shorted == () for s in report(one_metre(kind="dc")).settings)


def test_the_drop_under_one_starting_train() -> None:
    """3 V and 0.4 A are 7.5 ohm; the rest is a divider (by hand)."""
    plan = one_metre(kind="dc", internal_ohm=0.5)
    (setting,) = report(plan).settings
    worst = setting.weakest
    assert worst is not None
    ohm = setting.modules[0].loop_ohm
    assert worst.volts == pytest.approx(12.0 * 7.5 / (7.5 + ohm), abs=2e-3)
    assert worst.drop == pytest.approx(ohm / (7.5 + ohm), abs=2e-4)


def test_losses_add_up_to_what_is_lost() -> None:
    (setting,) = report(one_metre(kind="dc", internal_ohm=0.5)).settings
    worst = setting.weakest
    assert worst is not None
    assert sum(v for _, v in setting.kinds) == pytest.approx(
        worst.open_v - worst.volts, abs=0.02
    )
    kinds = dict(setting.kinds)
    amps = worst.volts / 7.5
    assert kinds["supply"] == pytest.approx(0.5 * amps, abs=2e-3)
    assert kinds["feeder"] == pytest.approx(2 * 2.0 * 0.03331 * amps, abs=2e-3)


@pytest.mark.parametrize(("least", "found"), [(8.5, True), (7.0, False)])
def test_a_station_at_its_least_still_gives_a_decoder_its_least(
    least: float, found: bool
) -> None:
    """NMRA S-9.1 (2020), table 3: 8.5 V at the station, 7 V at the decoder."""
    plan = one_metre(kind="digital")
    plan.parts[0] = plan.parts[0].replace("12.0", str(least))
    (setting,) = report(plan).settings
    assert setting.weakest is not None
    assert (setting.weakest.volts >= 7.0) is found


def test_twelve_volts_at_the_railhead() -> None:
    """NMRA S-9: at least 12 V at the railhead at full throttle and greatest load."""
    plan = one_metre(kind="dc", internal_ohm=0.5)
    plan.parts[0] = plan.parts[0].replace("12.0", "14.0")
    (setting,) = report(plan).settings
    assert setting.weakest is not None
    assert setting.weakest.volts > 12.0
    (twelve,) = report(one_metre(kind="dc", internal_ohm=0.5)).settings
    assert twelve.weakest is not None
    assert twelve.weakest.volts < 12.0


def long_line() -> Plan:
    """Five modules on a bus, fed at the first; three fixes for it."""
    plan = Plan().supply(kind="digital", voltage_v=14.0, trip_a=5.0)
    plan.add("[[bus]]", name="bus", supply="cab", wire="AWG 20", length="3 m")
    for n in range(5):
        plan.straight(f"m{n}", 1200.0)
    plan.add("[[feeder]]", name="f0", bus="bus", plus="m0/P/north", minus="m0/P/south")
    plan.add("[[joiner]]", at="m2/P/east", resistance_ohm=0.1)
    plan.add("[[fix]]", name="more feeders")
    plan.add("[[fix.feeder]]", name="f4", bus="bus", plus="m4/P/north", minus="m4/P/south")
    return plan.add("[[fix]]", name="solder", solder=["m2/P/joiner-east-*"])


def test_fixes_are_weighed_by_volts() -> None:
    plan = long_line()
    built, fed, soldered = (report(plan, fix) for fix in (None, "more feeders", "solder"))
    worst = [r.settings[0].weakest for r in (built, fed, soldered)]
    assert all(w is not None for w in worst)
    volts = [w.volts for w in worst if w is not None]
    assert volts[0] < volts[2] < volts[1]
    assert any(what.startswith("m2/P/joiner-east") for what, _ in built.settings[0].costs)
    thick = long_line()
    thick.parts = [p.replace("AWG 20", "AWG 12") for p in thick.parts]
    better = report(thick).settings[0].weakest
    assert better is not None
    assert better.volts > volts[0]


def test_a_layout_without_any_supply() -> None:
    found = report(Plan().straight("a", 500.0))
    assert found.settings[0].weakest is None
    assert found.settings[0].modules == ()


def test_the_command_and_its_document(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["volts", str(LOOPS), "--json", "-"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["format_version"] == 1
    assert document["fix"] is None
    assert {"levers", "weakest", "sections", "modules", "costs"} <= set(document["settings"][0])
    again = main(["volts", str(LOOPS), "--json", "-"])
    assert again == 0
    assert json.loads(capsys.readouterr().out) == document
    assert main(["volts", str(LOOPS), "--fix", "two jumpers"]) == 0
    page = capsys.readouterr().out
    assert "Weakest of all" in page
    assert "57" in page  # the rail's own assumption is told
    assert main(["volts", str(LOOPS), "--fix", "nothing"]) == 2
    assert main(["volts", "no such file"]) == 1


def test_causes_are_told_of_the_place_that_is_named() -> None:
    """Two sidings lose the same, to the digits that are told: the causes are of the first.

    From how they are joined (no source): the feeder of one costs nothing of the other.
    """
    side = """
[[module]]
name = "{name}"
[[module.piece]]
name = "P"
kind = "straight"
length_mm = {length}
[[feeder]]
name = "{name} drop"
supply = "cab"
plus = "{name}/P/north"
minus = "{name}/P/south"
length = "2 m"
"""
    for lengths in ((2000, 2001), (2001, 2000)):
        sides = (side.format(name=n, length=mm) for n, mm in zip("ab", lengths, strict=True))
        text = HEAD + '[[supply]]\nname = "cab"\n' + "".join(sides)
        for found in volts_report(assemble(scenario_from_text(text))).settings:
            assert found.weakest is not None
            board = found.weakest.section.split("/")[0]
            assert [what for what, _ in found.costs if "drop" in what]
            assert all(board in what for what, _ in found.costs if "drop" in what)
