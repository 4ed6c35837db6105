"""Vehicles and motors of the trains, with what was left open settled."""

from __future__ import annotations

from sim.layout.assembly_log import YOURS, Ledger, Report
from sim.layout.traffic import Motor, Vehicle
from sim.scenario.fields import speed_in_mm_s
from sim.scenario.problems import shown
from sim.scenario.trains import MotorTable, TrainTable, VehicleTable

#: More vehicles than this in one train are taken for a mistake.
VEHICLES_AT_MOST = 500


def speed_of(text: str | None, mm_s: float | None, scale_ratio: float) -> float | None:
    """Speed in mm/s from either way to write it; None when neither was."""
    return mm_s if text is None else round(speed_in_mm_s(text, scale_ratio), 6)


def make_vehicles(
    train: TrainTable, where: str, scale_ratio: float, ledger: Ledger, report: Report
) -> tuple[Vehicle, ...]:
    """The vehicles, front first; ``count`` of each."""
    vehicles: list[Vehicle] = []
    if sum(table.count for table in train.vehicle) > VEHICLES_AT_MOST:
        found = str(sum(table.count for table in train.vehicle))
        report.error(f"{where}.vehicle", f"at most {VEHICLES_AT_MOST} vehicles", found)
        return ()
    for number, table in enumerate(train.vehicle):
        at = f"{where}.vehicle[{number}]"
        vehicle = _vehicle(train.name, table, at, scale_ratio, ledger, report)
        vehicles += [vehicle] * table.count
    if train.orders and not any(v.motor for v in vehicles):
        report.error(f"{where}.vehicle", "a vehicle with a motor, as there are orders", "none")
    _check_pickups(vehicles, where, report)
    return tuple(vehicles)


def _vehicle(
    train: str,
    table: VehicleTable,
    at: str,
    scale_ratio: float,
    ledger: Ledger,
    report: Report,
) -> Vehicle:
    both = table.pickups_mm or ()
    sides = {
        "pickups_mm": table.pickups_mm,
        "pickups_left_mm": table.pickups_left_mm,
        "pickups_right_mm": table.pickups_right_mm,
    }
    for key, places in sides.items():
        for number, place in enumerate(places or ()):
            if place > table.length_mm:
                expected = f"a place on the vehicle, 0 to {table.length_mm:g} mm"
                report.error(f"{at}.{key}[{number}]", expected, f"{place:g}")
    left = both if table.pickups_left_mm is None else table.pickups_left_mm
    right = both if table.pickups_right_mm is None else table.pickups_right_mm
    motor = None
    if table.motor is not None:
        what = f"train {train}, vehicle {table.name}"
        motor = _motor(table.motor, f"{at}.motor", what, scale_ratio, ledger, report)
    return Vehicle(
        name=table.name,
        length_mm=table.length_mm,
        pickups_left_mm=tuple(sorted(left)),
        pickups_right_mm=tuple(sorted(right)),
        motor=motor,
        shares_with_next=table.shares_with_next,
        turned=table.turned,
    )


def _motor(
    table: MotorTable, at: str, what: str, scale_ratio: float, ledger: Ledger, report: Report
) -> Motor:
    start_v = ledger.pick("start_voltage_v", table.start_voltage_v, f"{what}: start voltage")
    motor = Motor(
        speed_mm_s=speed_of(table.speed, table.speed_mm_s, scale_ratio) or 0.0,
        at_voltage_v=table.at_voltage_v,
        start_voltage_v=start_v,
        turns_down_to_v=ledger.pick(
            "turns_down_to_v", table.turns_down_to_v, f"{what}: voltage it turns down to"
        ),
        running_a=ledger.pick("running_a", table.running_a, f"{what}: running current"),
        starting_a=_starting_a(table, start_v, what, ledger),
        minimum_v=ledger.pick("minimum_v", table.minimum_v, f"{what}: decoder's least voltage"),
    )
    if motor.turns_down_to_v > motor.start_voltage_v:
        expected = f"at most the start voltage, {motor.start_voltage_v:g} V"
        report.error(f"{at}.turns_down_to_v", expected, f"{motor.turns_down_to_v:g}")
    if motor.start_voltage_v >= motor.at_voltage_v:
        expected = f"more than the start voltage, {motor.start_voltage_v:g} V"
        report.error(f"{at}.at_voltage_v", expected, f"{motor.at_voltage_v:g}")
    if table.starting_a is not None and motor.running_a > motor.starting_a:
        expected = f"at least the running current, {motor.running_a:g} A"
        report.error(f"{at}.starting_a", expected, f"{motor.starting_a:g}")
    _warn_of_standing(motor, at, report)
    return motor


def _starting_a(table: MotorTable, start_v: float, what: str, ledger: Ledger) -> float:
    """Current at the start voltage, from the current of the blocked motor or as written."""
    if table.starting_a is not None:
        ohm = start_v / table.starting_a
        text = f"{table.starting_a:g} A at the start voltage, {ohm:.3g} ohm at rest"
        ledger.note(f"{what}: starting current", text, YOURS)
        return table.starting_a
    amps = ledger.pick("blocked_a", table.blocked_a, f"{what}: current while blocked")
    volts = ledger.pick("blocked_at_v", table.blocked_at_v, f"{what}: blocked at")
    return round(start_v * amps / volts, 12)


def _warn_of_standing(motor: Motor, at: str, report: Report) -> None:
    """What just keeps it turning must not be less than its running current needs."""
    volts = round(motor.running_a * motor.standing_ohm, 6)
    if volts > motor.turns_down_to_v:
        expected = (
            "a running current that, times the resistance of the motor at rest, is at most "
            f"the {motor.turns_down_to_v:g} V it turns down to"
        )
        found = f"{motor.running_a:g} A x {motor.standing_ohm:.3g} ohm = {volts:.3g} V"
        report.warn(f"{at}.running_a", expected, found, "motor-cannot-turn")


def _check_pickups(vehicles: list[Vehicle], where: str, report: Report) -> None:
    """Warn of a motor that no wheel can feed on one side."""
    start = 0
    for end, vehicle in enumerate(vehicles, start=1):
        if vehicle.shares_with_next and end < len(vehicles):
            continue
        group = vehicles[start:end]
        start = end
        motors = [v.name for v in group if v.motor is not None]
        left = any((v.pickups_right_mm if v.turned else v.pickups_left_mm) for v in group)
        right = any((v.pickups_left_mm if v.turned else v.pickups_right_mm) for v in group)
        if motors and not (left and right):
            side = "neither side" if not left and not right else "one side only"
            found = f"pickups on {side} of {shown(motors[0])}"
            report.warn(f"{where}.vehicle", "a motor with pickups on both sides", found)
