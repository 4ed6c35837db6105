"""From a scenario's text to what ``gapwright states --json`` prints, all the way."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from sim.layout.assemble import assemble
from sim.pages.documents import Asked, states_document
from sim.power.chart import chart
from tests.checked import scenario_from_text
from tests.scenario.texts import HEAD

Document = dict[str, Any]


def piece(kind: str, **params: object) -> str:
    """A scenario of one board ``b`` with one piece ``p``."""
    lines = [f"{key} = {json.dumps(value)}" for key, value in params.items()]
    return "\n".join(
        [
            HEAD,
            '[[module]]\nname = "b"',
            f'[[module.piece]]\nname = "p"\nkind = "{kind}"',
            *lines,
        ]
    )


def supplies(*names: str, **more: Mapping[str, object]) -> str:
    """DC supplies; ``more`` gives further keys of the supply of that name."""
    text = ""
    for name in names:
        extra = more.get(name.replace(" ", "_"), {})
        keys = [f"{key} = {json.dumps(value)}" for key, value in extra.items()]
        text += "\n".join(["\n[[supply]]", f'name = "{name}"', *keys, ""])
    return text


def feeders(*wires: tuple[str, str, str]) -> str:
    """Feeders (supply, plus section, minus section) of piece ``p`` on board ``b``."""
    return "".join(
        f'\n[[feeder]]\nname = "feed {n}"\nsupply = "{name}"\n'
        f'plus = "b/p/{plus}"\nminus = "b/p/{minus}"\n'
        for n, (name, plus, minus) in enumerate(wires)
    )


def fix_of_jumpers(name: str, pairs: Sequence[tuple[str, str]]) -> str:
    """A fix of that name with a jumper between each two sections."""
    text = f'\n[[fix]]\nname = "{name}"\n'
    for start, to in pairs:
        text += f'[[fix.jumper]]\nfrom = "b/p/{start}"\nto = "b/p/{to}"\n'
    return text


def states(text: str, fix: str | None = None, each: bool = False) -> Document:
    """The document, through JSON and back."""
    case = assemble(scenario_from_text(text), fix)
    asked = Asked(case.scenario, "gapwright states")
    made = states_document(asked, chart(case, each), case.assumptions)
    found: Document = json.loads(json.dumps(made))
    return found


def setting(document: Document, **levers: str) -> Document:
    """The setting in which the levers of ``b/p`` are so."""
    wanted = {f"b/p/{name}": position for name, position in levers.items()}
    for found in document["settings"]:
        if wanted.items() <= found["levers"].items():
            chosen: Document = found
            return chosen
    raise AssertionError(f"no setting with {levers}")


def fed(found: Document, section: str) -> list[str]:
    """Poles that feed a section of ``b/p``."""
    poles: list[str] = found["sections"][f"b/p/{section}"]["fed_by"]
    return poles


def route(found: Document, name: str) -> Document:
    """A route of ``b/p``."""
    chosen: Document = found["routes"][f"b/p/{name}"]
    return chosen


def kinds(found: Document, name: str) -> set[str]:
    """Kinds of dead on a route of ``b/p``."""
    return {d["kind"] for d in route(found, name)["dead"]}


CLOSED_KINDS = {"floating", "same pole", "no return", "wrong voltage", "insulated", "tripped",
         "starved"}  # fmt: skip
HOWS = {"one pole", "common return", "paralleled", "opposed"}


def holds_to_the_contract(document: Document, poles: set[str]) -> None:
    """Closed lists, ids, and what makes a setting dead or shorted."""
    assert isinstance(document["groups"], int)
    for found in document["settings"]:
        for section in found["sections"].values():
            assert set(section["fed_by"]) <= poles
        bad = False
        for name, state in found["routes"].items():
            assert name.count("/") == 2
            assert state["state"] in ("live", "dead", "short")
            assert bool(state["dead"]) or state["state"] != "dead"
            for d in state["dead"]:
                assert d["kind"] in CLOSED_KINDS
                assert d["from_mm"] < d["to_mm"]
                assert {d["left"], d["right"]} <= {*found["sections"], None}
            for span in state["insulated_spans"]:
                assert span["side"] in ("left", "right", "both")
            bad = bad or (state["set"] and state["state"] != "live")
        assert found["dead"] == bad
        assert found["short"] == bool(found["shorts"])
        for short in found["shorts"]:
            assert set(short["poles"]) <= poles
            assert short["elements"]
        for joined in found["joined_supplies"]:
            assert joined["how"] in HOWS
            assert set(joined["poles"]) <= poles
