"""Draw trains: vehicles, and their pickups lit one by one."""

from __future__ import annotations

from math import hypot

from sim.layout.model import PLASTIC
from sim.records.model import Stall
from viewer.draw.sheet import Sheet
from viewer.place.ground import Ground
from viewer.scene.scene import About, Anchor, Lettering, Point, Scene, Style
from viewer.state.moment import Moment
from viewer.state.standing import Standing
from viewer.state.trains import Spot, StandingPickup, StandingTrain, StandingVehicle

#: Half the width of a vehicle as a share of the gauge.
BODY_SHARE = 0.86
#: A name keeps off trains whose first vehicle is within so many gauges.
NAME_NEAR = 14.0


def draw_trains(scene: Scene, sheet: Sheet, moment: Moment) -> None:
    """All trains of the moment."""
    for train in moment.trains:
        _draw_train(scene, sheet.ground, moment, train)
    for train in moment.trains:  # on top of every train, so that no name is covered
        _draw_name(scene, sheet.ground, moment, train)


def gauge_at(ground: Ground, spot: Spot) -> float:
    """The gauge of the piece that a spot lies on, mm."""
    layout = ground.layout
    return layout.pieces[layout.routes[spot.route].piece].piece.gauge_mm


def place_of(ground: Ground, spot: Spot) -> Point:
    """A spot on the ground, mid-track."""
    pose = ground.on_route(spot.route, spot.place_mm)
    return pose.x_mm, pose.y_mm


def stretches(
    ground: Ground, vehicle: StandingVehicle, gauge: float
) -> list[tuple[Point, Point]]:
    """Front and rear of a vehicle; of each part where a break of the drawing parts it."""
    found: list[tuple[Point, Point]] = []
    for front, rear in vehicle.parts:
        a, b = place_of(ground, front), place_of(ground, rear)
        if found and hypot(a[0] - found[-1][1][0], a[1] - found[-1][1][1]) < gauge:
            found[-1] = found[-1][0], b
        else:
            found.append((a, b))
    return [(a, b) for a, b in found if a != b]


def _body(front: Point, rear: Point, gauge: float, leads: bool) -> list[Point]:
    """The outline of a vehicle from above, with a nose where it leads."""
    (ax, ay), (bx, by) = front, rear
    long = hypot(bx - ax, by - ay)
    ux, uy = (bx - ax) / long, (by - ay) / long
    half, inset = gauge * BODY_SHARE, min(long * 0.02, gauge * 0.2)
    nose = min(gauge * 0.7, long * 0.25) if leads else 0.0
    tip = (ax + ux * inset, ay + uy * inset)
    shoulder = (ax + ux * (inset + nose), ay + uy * (inset + nose))
    tail = (bx - ux * inset, by - uy * inset)
    nx, ny = -uy * half, ux * half
    wide = 0.35 if leads else 1.0
    return [
        (tip[0] + nx * wide, tip[1] + ny * wide),
        (shoulder[0] + nx, shoulder[1] + ny),
        (tail[0] + nx, tail[1] + ny),
        (tail[0] - nx, tail[1] - ny),
        (shoulder[0] - nx, shoulder[1] - ny),
        (tip[0] - nx * wide, tip[1] - ny * wide),
    ]


def _draw_train(scene: Scene, ground: Ground, moment: Moment, train: StandingTrain) -> None:
    gauge = gauge_at(ground, train.front)
    for vehicle in train.vehicles:
        about = About("vehicle", f"{train.name}: {vehicle.name}",
                      "powered" if train.powered else "without supply")  # fmt: skip
        for number, (front, rear) in enumerate(stretches(ground, vehicle, gauge)):
            body = _body(front, rear, gauge, vehicle.leads and number == 0)
            scene.area(body, Style("train fill" if vehicle.motor else "bed"), about)
            edge = Style("train", "solid", gauge * 0.06, 1.5 if vehicle.motor else 1.0)
            scene.line([*body, body[0]], edge, About("edge"))
    for pickup in train.pickups:
        _draw_pickup(scene, ground, moment, train, pickup)


def _first_middle(ground: Ground, train: StandingTrain) -> Point:
    """The middle of a train's first vehicle, or of what of it lies before a break."""
    parts = stretches(ground, train.vehicles[0], gauge_at(ground, train.front))
    one, other = parts[0] if parts else (place_of(ground, train.front),) * 2
    return (one[0] + other[0]) / 2.0, (one[1] + other[1]) / 2.0


def _draw_name(scene: Scene, ground: Ground, moment: Moment, train: StandingTrain) -> None:
    """Beside the first vehicle, on the side on which no other train is near."""
    gauge = gauge_at(ground, train.front)
    at = _first_middle(ground, train)
    ahead = place_of(ground, train.vehicles[0].front)
    long = hypot(ahead[0] - at[0], ahead[1] - at[1]) or 1.0
    nx, ny = -(ahead[1] - at[1]) / long, (ahead[0] - at[0]) / long
    if (ny, nx) < (0.0, 0.0):  # the northern side is the first choice
        nx, ny = -nx, -ny
    off = gauge * 1.9
    others = [_first_middle(ground, t) for t in moment.trains if t.name != train.name]
    near = [p for p in others if hypot(p[0] - at[0], p[1] - at[1]) < gauge * NAME_NEAR]
    if sum((p[0] - at[0]) * nx + (p[1] - at[1]) * ny > 0.0 for p in near) * 2 > len(near):
        nx, ny = -nx, -ny
    anchor: Anchor = "middle" if abs(nx) < 0.6 else "start" if nx > 0.0 else "end"
    lettering = Lettering("ink", gauge * 0.7, 10.0, 0.0, anchor, "ground", True)
    place = at[0] + nx * off, at[1] + ny * off
    standing = moment.standing.get(train.name)
    if standing is None:
        scene.words(place, train.name, lettering, About("train", train.name))
        return
    tag = f"{train.name}: {reason_in_words(standing, moment)}"
    scene.words(place, tag, lettering, About("train", train.name, standing.why))


def reason_in_words(standing: Standing, moment: Moment) -> str:
    """Why a train stands, in a few words."""
    who, short = standing.who, standing.who.rpartition("/")[2]
    if standing.stall is not None:
        return "no supply, moved by hand" if standing.pushed else _lacks(standing.stall)
    if standing.why == "supply off":
        off = {moment.layout.supplies[k].name for k in moment.off}
        how = "shorted" if who and who not in off else "off"
        return f"supply {who} is {how}" if who else "supply off"
    if standing.why == "behind a train":
        return f"waits behind {who}" if who else "waits behind another"
    if standing.why == "lever moving":
        one = any(lever.id == who for lever in moment.layout.levers)
        moves = f"{'lever' if one else 'gang'} {short} moves" if who else "levers move"
        return f"waits, {moves}"
    if standing.why == "way not set":
        return f"waits, {who} has the way" if who else "waits for its way"
    return "waits as ordered"


def _lacks(stall: Stall) -> str:
    """The rail that gives nothing; where both give a pole, what is wrong with those."""
    if stall.kind not in ("floating", "insulated"):
        return f"no supply, {stall.kind}"
    one = stall.side in ("left", "right")
    return f"no supply, {stall.side} rail" if one else "no supply on either rail"


def pickup_word(moment: Moment, train: StandingTrain, pickup: StandingPickup) -> str:
    """What a pickup gets: ``lit``, ``a pole but no current``, ``nothing`` or ``no metal``."""
    if pickup.node == PLASTIC:
        return "no metal"
    power = moment.power
    if not power.poles(pickup.node):
        return "nothing"
    left, right = train.units[pickup.unit]
    sides = train.sides.get(left, ()), train.sides.get(right, ())
    fed = [next((n for n in side if power.poles(n)), None) for side in sides]
    if None in fed:
        return "a pole but no current"
    a, b = (n for n in fed if n is not None)
    return "lit" if power.verdict(a, b) is None else "a pole but no current"


def _draw_pickup(
    scene: Scene, ground: Ground, moment: Moment, train: StandingTrain, pickup: StandingPickup
) -> None:
    """Lit: full, in the pole's colour. A pole but no current: ringed. Nothing: hollow."""
    gauge = gauge_at(ground, pickup.spot)
    at = ground.rail_at(pickup.spot.route, pickup.spot.place_mm, pickup.on_left)
    word = pickup_word(moment, train, pickup)
    node = "plastic or dirt" if pickup.node == PLASTIC else moment.layout.nodes[pickup.node]
    about = About("pickup", f"{train.name} on {node}", word)
    radius = gauge * 0.17
    scene.disc(at, radius, 3.0, Style("ground"), About("hole"))
    if word in ("lit", "a pole but no current"):
        pole = moment.power.poles(pickup.node)[0]
        colour = Style(f"pole {pole % 4}", "solid", gauge * 0.06, 1.0)
        if word == "lit":
            scene.disc(at, radius, 3.0, colour, about)
        else:
            scene.disc(at, radius * 0.5, 1.5, colour, about)
    ring = Style("ink", "solid", gauge * 0.05, 1.0)
    dark = about if word in ("nothing", "no metal") else About("ring")
    scene.disc(at, radius, 3.0, ring, dark, filled=False)
    if word == "no metal":
        x, y = at
        scene.line(((x - radius, y), (x + radius, y)), ring, About("bar"))
