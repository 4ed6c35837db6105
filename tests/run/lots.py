"""Random layouts, trains and throws for property tests: twin-track rings, all invented."""

from __future__ import annotations

import tomllib

from hypothesis import strategies as st

from sim.pieces.kinds import build
from tests.pieces.cases import FAMILIES, SLIP_FAMILIES
from tests.run.plans import MOTOR, Plan


@st.composite
def plans(draw: st.DrawFn, most_trains: int = 3) -> Plan:
    """A ring of twin-track modules with two supplies, some trains, orders and throws."""
    plan = Plan(draw(st.sampled_from([20.0, 60.0])))
    plan.run = {
        "throw_s": draw(st.sampled_from([0.0, 0.3, 1.7])),
        "nudge_after_s": draw(st.sampled_from([0.5, 4.0])),
        "nudge_mm": draw(st.sampled_from([7.0, 30.0])),
        "nudges_at_most": draw(st.integers(0, 3)),
    }
    plan.assumptions = {
        "contact_opens": draw(st.sampled_from([0.0, 0.3])),
        "lever_fails": draw(st.sampled_from([0.0, 0.2])),
    }
    kind = draw(st.sampled_from(["digital", "dc"]))
    for name in ("A", "B"):
        plan.supply(
            name,
            kind,
            reversed=draw(st.booleans()),
            trip_s=0.2,
            retry_s=draw(st.sampled_from([3.0, "never"])),
        )
    count = draw(st.integers(2, 5))
    levers: list[tuple[str, str]] = []
    switches: list[str] = []
    for i in range(count):
        what = (
            draw(st.sampled_from(["straight", "cut", "scissors", "single", "slip"]))
            if i
            else "straight"
        )
        levers += _module(draw, plan, f"m{i}", what)
        if what in ("scissors", "single", "slip"):
            switches.append(f"m{i}/{what}")
    for _ in range(draw(st.integers(0, 4)) if levers else 0):
        lever, to = draw(st.sampled_from(levers))
        at_s = draw(st.sampled_from([0.0, 1.0, 2.5, 7.25, 13.0]))
        every = draw(st.sampled_from([None, 3.1]))
        home = {"B-east": "A-east", "B-west": "A-west"}.get(to, "through")
        back = [to, home] if every else to
        plan.add("[[throw]]", at_s=at_s, lever=lever, to=back, every_s=every)
    spots = draw(st.permutations([(t, p) for t in "AB" for p in (150.0, 450.0)]))
    for k in range(draw(st.integers(1, most_trains))):
        _train(draw, plan, f"t{k}", spots[k], switches, levers)
    return plan


def _module(draw: st.DrawFn, plan: Plan, name: str, what: str) -> list[tuple[str, str]]:
    plan.line.append(name)
    plan.add("[[module]]", name=name)
    if what in ("straight", "cut"):
        for track in "AB":
            if what == "straight":
                plan.add("[[module.piece]]", name=track, kind="straight", length_mm=500.0)
            else:
                gap = draw(st.sampled_from(["north", "south", "both"]))
                plan.add(
                    "[[module.piece]]",
                    name=track,
                    kind="insulated straight",
                    length_mm=300.0,
                    gap_in=gap,
                    gap_mm=draw(st.sampled_from([40.0, 150.0])),
                )
            if what == "straight" and (name == "m0" or draw(st.booleans())):
                plan.feed(f"{name}/{track}/north", f"{name}/{track}/south", track)
        return []
    keys: dict[str, object] = {
        "family": draw(st.sampled_from(FAMILIES)),
        "track_centres_mm": 30.0,
        "run_through": draw(st.sampled_from(["forced over", "springs back", "derails"])),
        "makes_at": draw(st.sampled_from([1.0, 0.2])),
        "breaks_at": draw(st.sampled_from([0.0, 0.6])),
    }
    if what == "slip":
        del keys["track_centres_mm"]
        keys["family"] = draw(st.sampled_from(SLIP_FAMILIES))
        plan.add("[[module.piece]]", name=what, kind="double slip", **keys)
        return [(f"{name}/slip/west", "B-east"), (f"{name}/slip/east", "B-west")]
    if what == "single":
        plan.add("[[module.piece]]", name=what, kind="single crossover", **keys)
        return [(f"{name}/single/{g}", "diverging") for g in _gangs(plan)]
    keys["gangs"] = draw(st.sampled_from(["all", "per diagonal", "single"]))
    plan.add("[[module.piece]]", name=what, kind="scissors crossover", **keys)
    return [(f"{name}/scissors/{g}", "diverging") for g in _gangs(plan)]


def _gangs(plan: Plan) -> list[str]:
    """Names of what a hand moves in the piece just added, asked of the piece itself."""
    params = tomllib.loads(plan.parts[-1].replace("[[module.piece]]", "[piece]"))["piece"]
    kind = params.pop("kind")
    del params["name"]
    piece = build(kind, {"gauge_mm": 9.0, **params})
    ganged = {lever for gang in piece.gangs for lever in gang.levers}
    return [g.name for g in piece.gangs] + [
        lever.name for lever in piece.levers if lever.name not in ganged
    ]


def _train(
    draw: st.DrawFn,
    plan: Plan,
    name: str,
    spot: tuple[str, float],
    switches: list[str],
    levers: list[tuple[str, str]],
) -> None:
    track, place = spot
    orders: list[dict[str, object]] = []
    for _ in range(draw(st.integers(1, 4))):
        do = draw(st.sampled_from(["circulate", "cross", "stop", "wait", "throw", "run"]))
        backward = draw(st.sampled_from([False, False, True]))
        if do == "cross" and switches:
            orders.append(
                {"do": do, "at": draw(st.sampled_from(switches)), "backward": backward}
            )
        elif do == "throw" and levers:
            lever, to = draw(st.sampled_from(levers))
            orders.append({"do": do, "lever": lever, "to": to})
        elif do == "wait":
            orders.append({"do": do, "for_s": draw(st.sampled_from([0.0, 2.0]))})
        elif do in ("stop", "run"):
            key = "on" if do == "stop" else "to"
            orders.append({"do": do, key: f"m0/{track}", "backward": backward})
        else:
            orders.append(
                {"do": "circulate", "laps": draw(st.integers(1, 3)), "backward": backward}
            )
    engine = {
        "name": "engine",
        "length_mm": 60.0,
        "pickups_left_mm": draw(st.sampled_from([[5.0, 55.0], [10.0], [8.0, 20.0, 40.0]])),
        "pickups_right_mm": draw(st.sampled_from([[5.0, 55.0], [50.0], [20.0, 52.0]])),
        "turned": draw(st.booleans()),
        "shares_with_next": draw(st.booleans()),
        "motor": MOTOR,
    }
    coach = {"name": "coach", "length_mm": 70.0, "pickups_mm": [10.0, 60.0]}
    vehicles = [engine, coach] if draw(st.booleans()) else [engine]
    plan.train(
        name,
        at=f"m0/{track}",
        place_mm=place,
        orders=orders,
        vehicles=vehicles,
        repeat=draw(st.booleans()),
        heading=draw(st.sampled_from(["west", "east"])) if len(vehicles) == 1 else "east",
        speed_mm_s=draw(st.sampled_from([40.0, 100.0, 170.0])),
        coasting_mm=draw(st.sampled_from([3.0, 30.0])),
        energy_store_s=draw(st.sampled_from([0.0, 0.5])),
    )
