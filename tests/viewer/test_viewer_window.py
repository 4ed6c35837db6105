"""The window by posted keys and gestures under SDL's dummy driver; no screen needed."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from sim.layout.project import load_project
from tests.checked import check_scenario, read_scenario
from tests.viewer.demo import CLUB, LOOPS

pygame = pytest.importorskip("pygame")

from viewer.look import DARK, LIGHT  # noqa: E402
from viewer.window import furniture  # noqa: E402
from viewer.window.desk import Desk  # noqa: E402
from viewer.window.help import draw_help  # noqa: E402
from viewer.window.keys import BINDINGS, action_of  # noqa: E402
from viewer.window.runner import Here, Ready  # noqa: E402
from viewer.window.things import Takeable  # noqa: E402
from viewer.window.window import Window  # noqa: E402

SIZE = (1280, 720)


@pytest.fixture(autouse=True, scope="module")
def sdl() -> Iterator[None]:
    pygame.display.init()
    pygame.font.init()
    pygame.display.set_mode(SIZE)
    yield
    pygame.quit()


def opened(path: Path, fix: str | None = None) -> Window:
    return Window(Desk(str(path), load_project(path), fix, 1, Here()), SIZE, LIGHT)


def send(window: Window, *events: object) -> None:
    """Through pygame's own queue, as a real window would get them."""
    for event in events:
        pygame.event.post(event)
    for event in pygame.event.get():
        window.handle(event)


def press(window: Window, key: int, mod: int = 0) -> None:
    send(window, pygame.event.Event(pygame.KEYDOWN, key=key, mod=mod, unicode=""))


def drag(window: Window, start: tuple[float, float], end: tuple[float, float]) -> None:
    half = (start[0] + end[0]) / 2, (start[1] + end[1]) / 2
    send(
        window,
        pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=start),
        *(
            pygame.event.Event(pygame.MOUSEMOTION, pos=p, rel=(0, 0), buttons=(1, 0, 0))
            for p in (half, end)
        ),
        pygame.event.Event(pygame.MOUSEBUTTONUP, button=1, pos=end),
    )


def click(window: Window, at: tuple[float, float]) -> None:
    send(
        window,
        pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=at),
        pygame.event.Event(pygame.MOUSEBUTTONUP, button=1, pos=at),
    )


def pixel(window: Window, thing: Takeable) -> tuple[float, float]:
    return window.sight.camera.to_px(thing.at)


def near(window: Window, ending: str) -> Takeable:
    """Take the thing whose id ends so into the hand and go near."""
    for _ in range(2):  # contacts and pads can be taken only when the view is near
        found = next((t for t in window.hand.things() if t.id.endswith(ending)), None)
        if found is None:
            window.hand.taken = window.hand.things()[0]
            press(window, pygame.K_z)
            continue
        window.hand.taken = found
        press(window, pygame.K_z)
    return next(t for t in window.hand.things() if t.id.endswith(ending))


def painted(window: Window) -> object:
    surface = pygame.Surface(SIZE)
    window.paint(surface, None)
    return surface


def around(surface: object, x: float, y: float) -> set[tuple[int, ...]]:
    """Colours of the pixel at a place and of those above and below it."""
    rows = (round(y) - 1, round(y), round(y) + 1)
    return {tuple(surface.get_at((round(x), row)))[:3] for row in rows}  # type: ignore[attr-defined]


def words_of(window: Window) -> dict[str, str]:
    moment = window.desk.hand_lane.at(window.desk.time_s)
    names = moment.layout.nodes
    return {n: rail.word for n, rail in zip(names, moment.rails, strict=True)}


# -- time ---------------------------------------------------------------------------


def test_play_pause_and_speed() -> None:
    window = opened(LOOPS)
    press(window, pygame.K_SPACE)
    assert window.desk.playing
    press(window, pygame.K_PERIOD)
    window.tick(0.5)
    assert window.desk.time_s == pytest.approx(1.0)  # twice as fast
    press(window, pygame.K_COMMA)
    press(window, pygame.K_COMMA)
    window.tick(1.0)
    assert window.desk.time_s == pytest.approx(1.5)
    press(window, pygame.K_SPACE)
    window.tick(1.0)
    assert window.desk.time_s == pytest.approx(1.5)


def test_stepping_stops_at_every_mark_both_ways() -> None:
    window = opened(CLUB)
    times = sorted({m.time_s for m in window.desk.marks()})
    for expected in times[:8]:
        press(window, pygame.K_RIGHTBRACKET)
        assert window.desk.time_s == expected
    press(window, pygame.K_LEFTBRACKET)
    assert window.desk.time_s == times[6]
    press(window, pygame.K_HOME, pygame.KMOD_CTRL)
    assert window.desk.time_s == 0.0
    press(window, pygame.K_n)
    first = window.desk.lanes[0].replay.record.stalls[0]  # type: ignore[union-attr]
    assert window.desk.time_s == first.time_s
    assert first.train in window.desk.message


def test_scrubbing_on_the_time_line() -> None:
    window = opened(CLUB)
    line = window.rooms.line()
    y = line.top + line.high / 2
    click(window, (furniture.x_of(line, 300.0, 1200.0), y))
    assert window.desk.time_s == pytest.approx(300.0, abs=1.0)
    drag(
        window,
        (furniture.x_of(line, 300.0, 1200.0), y),
        (furniture.x_of(line, 900.0, 1200.0), y),
    )
    assert window.desk.time_s == pytest.approx(900.0, abs=1.0)


def test_the_time_line_has_a_mark_for_everything() -> None:
    from viewer.scene.scene import TextScene

    window = opened(CLUB)
    scene = TextScene()
    marks = window.desk.marks()
    furniture.draw_line(scene, window.rooms.line(), [marks], 1200.0)
    drawn = scene.states("mark")
    assert set(drawn) == {m.kind for m in marks}
    record = window.desk.lanes[0].replay.record  # type: ignore[union-attr]
    stalls = {f"{s.time_s:.3f}" for s in record.stalls}
    assert drawn["stall"] <= stalls
    # Marks on one pixel are one; none of them is left without.
    pixel_s = 1200.0 / (window.rooms.line().wide / 2)
    for stall in stalls:
        assert min(abs(float(stall) - float(at)) for at in drawn["stall"]) <= pixel_s


# -- the hand -----------------------------------------------------------------------


def test_a_lever_goes_with_its_gang_or_alone() -> None:
    window = opened(CLUB)
    lever = near(window, "north junction/scissors/AW")
    click(window, pixel(window, lever))
    moment = window.desk.hand_lane.at(0.0)
    north = [k for k, x in enumerate(moment.layout.levers) if x.id.startswith("north")]
    assert {moment.lever(k) for k in north} == {"diverging"}
    press(window, pygame.K_u)
    press(window, pygame.K_RETURN, pygame.KMOD_SHIFT)
    moment = window.desk.hand_lane.at(0.0)
    thrown = [x.id for k, x in enumerate(moment.layout.levers) if moment.lever(k) != "through"]
    assert thrown == ["north junction/scissors/AW"]


def test_a_contact_goes_from_good_to_open_to_tired_to_good() -> None:
    window = opened(CLUB)
    contact = near(window, "north junction/scissors/AE-through")
    words = []
    for _ in range(3):
        click(window, pixel(window, contact))
        words.append(window.desk.hand_lane.at(0.0).contact(contact.number))
    assert words == ["stays open", "tired", "closed"]
    assert "AE-through is good" in window.desk.message


def test_a_jumper_shows_at_once_what_comes_alive() -> None:
    """Against the chart of the same fix: every section is what tracing says."""
    from sim.layout.assemble import assemble
    from sim.power.chart import chart

    window = opened(LOOPS)
    click(window, pixel(window, near(window, "scissors/BE")))  # takes it; the lever is thrown
    press(window, pygame.K_u)
    near(window, "board/scissors/pad-A-inner-west-1")
    pads = {t.id: t for t in window.hand.things() if t.kind == "pad"}
    start, end = (pads[f"board/scissors/pad-{s}-1"] for s in ("A-inner-west", "A-inner-east"))
    press(window, pygame.K_w)
    for _ in range(8):
        press(window, pygame.K_PLUS)
        if all(t in window.hand.things() for t in (start, end)):
            break
    window.sight.camera = window.sight.camera.at((start.at[0] + end.at[0]) / 2, start.at[1])
    drag(window, pixel(window, start), pixel(window, end))
    assert len(window.desk.history.now.jumpers) == 1
    fixed = assemble(read_scenario(str(LOOPS)), "two jumpers")
    words = words_of(window)
    for section, poles in chart(fixed).settings[0].fed_by:
        if "/A" in section:
            assert words[section] == (" and ".join(poles) or "floating")
    press(window, pygame.K_z, pygame.KMOD_CTRL)
    assert not window.desk.history.now.jumpers
    press(window, pygame.K_y)
    assert len(window.desk.history.now.jumpers) == 1


def test_a_jumper_that_shorts_is_told_as_a_short() -> None:
    window = opened(LOOPS)
    window.desk.lay("west/A/pad-north-1", "west/A/pad-south-1")
    assert "SHORT" in window.desk.message
    assert words_of(window)["west/A/north"] == "short"
    painted(window)
    press(window, pygame.K_u)
    assert words_of(window)["west/A/north"] == "cab A+"


def test_a_jumper_by_keys_alone() -> None:
    window = opened(LOOPS)
    for pad in ("board/scissors/pad-B-inner-west-1", "board/scissors/pad-B-inner-east-1"):
        near(window, pad)
        press(window, pygame.K_RETURN)
    jumper = window.desk.history.now.jumpers[0]
    assert (jumper.start, jumper.to) == (
        "board/scissors/pad-B-inner-west-1",
        "board/scissors/pad-B-inner-east-1",
    )
    taken = next(t for t in window.hand.things() if t.kind == "jumper")
    window.hand.taken = taken
    press(window, pygame.K_RETURN)
    assert not window.desk.history.now.jumpers


def test_everything_can_be_reached_by_tab_and_arrows() -> None:
    window = opened(LOOPS)
    press(window, pygame.K_TAB)
    press(window, pygame.K_z)
    seen = set()
    for _ in range(len(window.hand.things())):
        press(window, pygame.K_TAB)
        assert window.hand.taken is not None
        assert window.rooms.ground(0).holds(window.sight.camera.to_px(window.hand.taken.at))
        seen.add((window.hand.taken.kind, window.hand.taken.id))
    assert seen == {(t.kind, t.id) for t in window.hand.things()}
    before = window.hand.taken
    press(window, pygame.K_RIGHT)
    assert window.hand.taken is not None and before is not None
    assert window.hand.taken.at[0] >= before.at[0]


def test_playing_with_a_jumper_runs_both_on_the_same_luck() -> None:
    window = opened(CLUB)
    window.desk.lay("north junction/scissors/pad-A-inner-west-1",
                    "north junction/scissors/pad-A-inner-east-1")  # fmt: skip
    press(window, pygame.K_SPACE)
    lanes = window.desk.lanes
    assert len(lanes) == 2
    records = [lane.replay.record for lane in lanes if lane.replay is not None]
    assert records[0].seed == records[1].seed
    assert len(records[1].stalls) < len(records[0].stalls)
    plain = opened(CLUB).desk.lanes[0].replay
    assert plain is not None and records[0].stalls == plain.record.stalls


def test_an_open_contact_strikes_both_lanes() -> None:
    window = opened(CLUB, "two jumpers")
    contact = near(window, "north junction/scissors/AW-through")
    click(window, pixel(window, contact))
    for lane in window.desk.lanes:
        assert lane.at(0.0).contact(contact.number) == "stays open"
    press(window, pygame.K_r)
    for lane in window.desk.lanes:
        assert lane.replay is not None
        assert any(e.what == "stayed open" and e.who == contact.id
                   for e in lane.replay.record.events)  # fmt: skip


# -- saving -------------------------------------------------------------------------


def test_a_fix_is_saved_into_the_scenario_and_nothing_else_changes(tmp_path: Path) -> None:
    copy = tmp_path / "club.toml"
    shutil.copy(CLUB, copy)
    before = copy.read_text(encoding="utf-8")
    window = opened(copy)
    press(window, pygame.K_s)
    assert window.name is None and "no jumper" in window.desk.message
    window.desk.lay("north junction/scissors/pad-A-inner-west-1",
                    "north junction/scissors/pad-A-inner-east-1")  # fmt: skip
    press(window, pygame.K_s)
    painted(window)
    for _ in range(20):
        press(window, pygame.K_BACKSPACE)
    send(window, pygame.event.Event(pygame.TEXTINPUT, text="two jumpers"))
    press(window, pygame.K_RETURN)
    assert window.name is not None and "taken" in window.desk.message
    send(window, pygame.event.Event(pygame.TEXTINPUT, text=' "mine" \\ #1'))
    press(window, pygame.K_RETURN)
    assert window.name is None
    after = copy.read_text(encoding="utf-8")
    assert after.startswith(before.rstrip("\n"))
    assert not [p for p in check_scenario(str(copy)) if p.severity == "error"]
    fix = read_scenario(str(copy)).fix_named('two jumpers "mine" \\ #1')
    assert fix is not None and fix.jumper[0].start.endswith("pad-A-inner-west-1")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["club.toml"]


def test_a_fix_that_is_added_to_is_saved_whole(tmp_path: Path) -> None:
    copy = tmp_path / "loops.toml"
    shutil.copy(LOOPS, copy)
    window = opened(copy, "two jumpers")
    window.desk.lay("west/A/pad-north-1", "east/A/pad-north-1")
    assert window.desk.save("both")
    saved = read_scenario(str(copy)).fix_named("both")
    old = read_scenario(str(copy)).fix_named("two jumpers")
    assert saved is not None and old is not None
    assert saved.jumper[:2] == old.jumper and len(saved.jumper) == 3


def test_a_file_that_went_bad_is_not_touched(tmp_path: Path) -> None:
    copy = tmp_path / "loops.toml"
    shutil.copy(LOOPS, copy)
    window = opened(copy)
    window.desk.lay("west/A/pad-north-1", "east/A/pad-north-1")
    broken = copy.read_text(encoding="utf-8") + "\n[[fix]\n"
    copy.write_text(broken, encoding="utf-8")
    assert not window.desk.save("mine")
    assert window.desk.message.startswith("Not saved")
    assert copy.read_text(encoding="utf-8") == broken


# -- the view -----------------------------------------------------------------------


def test_the_wheel_zooms_about_the_pointer_and_w_shows_the_whole() -> None:
    window = opened(CLUB)
    whole = window.sight.camera
    at = (500.0, 200.0)
    place = window.sight.camera.to_mm(at)
    send(window, pygame.event.Event(pygame.MOUSEMOTION, pos=at, rel=(0, 0), buttons=(0, 0, 0)))
    send(window, pygame.event.Event(pygame.MOUSEWHEEL, x=0, y=3, flipped=False))
    assert window.sight.camera.px_per_mm > whole.px_per_mm
    assert window.sight.camera.to_px(place) == pytest.approx(at)
    press(window, pygame.K_w)
    assert window.sight.camera == whole


def test_dragging_the_ground_pans() -> None:
    window = opened(CLUB)
    place = window.sight.camera.to_mm((640.0, 300.0))
    drag(window, (640.0, 300.0), (700.0, 340.0))
    assert window.sight.camera.to_px(place) == pytest.approx((700.0, 340.0))


def test_a_train_is_followed() -> None:
    window = opened(CLUB)
    press(window, pygame.K_f)
    name = window.sight.following
    press(window, pygame.K_SPACE)
    for _ in range(3):
        window.tick(0.2)
    lane = window.desk.hand_lane
    train = next(t for t in lane.at(window.desk.time_s).trains if t.name == name)
    pose = lane.sheet.ground.on_route(train.front.route, train.front.place_mm)
    assert (window.sight.camera.x_mm, window.sight.camera.y_mm) == pytest.approx(
        (pose.x_mm, pose.y_mm)
    )


@pytest.mark.parametrize("size", [(640, 420), (1920, 1080), (320, 240)])
def test_any_size_is_painted_and_keeps_its_buttons(size: tuple[int, int]) -> None:
    window = opened(CLUB, "two jumpers")
    window.resize(size)
    surface = pygame.Surface((round(window.rooms.wide), round(window.rooms.high)))
    window.paint(surface, None)
    rooms = [b.room for b in window.rooms.buttons()]
    assert len(rooms) == sum(bool(b.button) for b in BINDINGS)
    for k, room in enumerate(rooms):
        assert room.left >= 0 and room.left + room.wide <= window.rooms.wide
        assert room.top >= 0 and room.top + room.high <= window.rooms.high
        for other in rooms[:k]:
            assert (
                other.left + other.wide <= room.left
                or room.left + room.wide <= other.left
                or other.top + other.high <= room.top
                or room.top + room.high <= other.top
            )
    window.do("help")
    window.paint(surface, None)


def test_a_high_density_surface_is_the_same_picture_twice_as_fine() -> None:
    window = opened(CLUB)
    small = painted(window)
    window.resize(SIZE, 2.0)
    large = pygame.Surface((2560, 1440))
    window.paint(large, None)
    reduced = pygame.transform.smoothscale(large, SIZE)
    a, b = pygame.surfarray.array3d(small), pygame.surfarray.array3d(reduced)
    assert abs(a.astype(int) - b.astype(int)).mean() < 6.0


def test_pixels_of_a_rail_have_its_colour() -> None:
    """A few pixels as pixels: the fed north rail of a board without trains."""
    window = opened(LOOPS)
    surface = painted(window)
    lane = window.desk.lanes[0]
    layout = lane.case.layout
    route = next(k for k, r in enumerate(layout.routes) if r.id == "east/A/west-east")
    for share in (0.3, 0.7):
        place = lane.sheet.ground.rail_at(route, 600.0 * share, left=True)
        x, y = window.sight.camera.to_px(place)
        assert LIGHT.colour("pole 0") in around(surface, x, y)
    press(window, pygame.K_g)
    dark = painted(window)
    assert DARK.colour("pole 0") in around(dark, x, y)
    assert LIGHT.colour("pole 0") not in around(dark, x, y)


def test_painting_within_a_budget_ends_in_the_same_picture() -> None:
    """After a jump in time, a zoom and a thrown lever: a few frames later nothing differs."""
    window = opened(CLUB)
    painted(window)
    window.desk.go_to(430.0)
    press(window, pygame.K_PLUS)
    press(window, pygame.K_TAB)
    press(window, pygame.K_RETURN)
    quick = pygame.Surface(SIZE)
    for _ in range(60):
        window.paint(quick, 0.002)
    assert window.painter.settled()
    window.painter.forget()
    fresh = painted(window)
    a, b = pygame.surfarray.array3d(quick), pygame.surfarray.array3d(fresh)
    assert (a != b).any(axis=2).mean() < 0.004


def test_help_is_on_one_key_and_tells_every_key() -> None:
    from viewer.scene.scene import TextScene

    window = opened(CLUB)
    press(window, pygame.K_h)
    assert window.helping
    scene = TextScene()
    draw_help(scene, window.rooms.lane(0), window.desk.built.layout)
    told = set(scene.states("key"))
    assert {b.keys for b in BINDINGS} <= told
    signs = set(scene.states("legend"))
    assert {"lever at rest", "lever thrown", "what is to blame", "time line: trip"} <= signs
    press(window, pygame.K_ESCAPE)
    assert not window.helping and window.open
    press(window, pygame.K_q)
    assert not window.open


def test_every_binding_leads_to_something() -> None:
    """Each action of the table is one that the window knows."""
    keys = [
        *range(32, 127),
        pygame.K_TAB,
        pygame.K_RETURN,
        pygame.K_ESCAPE,
        pygame.K_PAGEUP,
        pygame.K_PAGEDOWN,
        pygame.K_LEFT,
        pygame.K_RIGHT,
        pygame.K_UP,
        pygame.K_DOWN,
        pygame.K_F1,
        pygame.K_HOME,
        pygame.K_END,
    ]
    found = {action_of(k, m) for k in keys for m in (0, pygame.KMOD_SHIFT, pygame.KMOD_CTRL)}
    bound = {b.action for b in BINDINGS} - {"near", "pan"}
    assert bound <= found
    window = opened(LOOPS)
    for action in sorted(a for a in found if a):
        window.do(action)


def test_a_run_that_fails_is_told_and_the_window_stays() -> None:
    window = opened(LOOPS)

    class Broken(Here):
        def start(self, case: object, seed: int) -> Ready:
            return Ready("no luck")

    window.desk.runner = Broken()
    window.desk.run_again()
    assert "no luck" in window.desk.message
    painted(window)
