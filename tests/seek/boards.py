"""One library piece on a board of its own, fed as asked."""

from __future__ import annotations

from sim.layout.assemble import assemble
from sim.layout.traffic import Case
from sim.scenario.document import Scenario
from tests.checked import scenario_from_text
from tests.pieces.cases import FAMILIES, SLIP_FAMILIES

HEAD = 'format = 1\ntitle = "One board"\nscale_ratio = 160\ngauge_mm = 9\n'
TWIN = "track_centres_mm = 33\nlength_mm = 310\n"
WEST = {"A": ("A-outer", "A-inner-west"), "B": ("B-inner-west", "B-outer")}
EAST = {"A": ("A-outer", "A-inner-east"), "B": ("B-inner-east", "B-outer")}


def board(
    kind: str, params: str, feeds: dict[str, tuple[str, str]], more: str = ""
) -> Scenario:
    """``feeds`` gives by loop the sections on plus and on minus."""
    text = HEAD
    for name, (plus, minus) in feeds.items():
        loop = name.split()[0]
        if f'name = "cab {loop}"' not in text:
            text += f'[[supply]]\nname = "cab {loop}"\n'
            if len({n.split()[0] for n in feeds}) > 1:
                rails = f'["board/piece/{loop}-*"]'
                text += f'[[district]]\nname = "loop {loop}"\nsupply = "cab {loop}"\n'
                text += f"sections = {rails}\n"
        text += f'[[feeder]]\nname = "feed {name}"\nsupply = "cab {loop}"\n'
        text += f'plus = "board/piece/{plus}"\nminus = "board/piece/{minus}"\n'
    text += f'[[module]]\nname = "board"\n[[module.piece]]\nname = "piece"\nkind = "{kind}"\n'
    return scenario_from_text(text + params + more)


def case(scenario: Scenario, fix: str | None = None) -> Case:
    return assemble(scenario, fix)


def scissors(
    family: str = "live frog",
    gangs: str = "per diagonal",
    centre_gap: bool = True,
    feeds: dict[str, tuple[str, str]] | None = None,
) -> Scenario:
    gap = "true" if centre_gap else "false"
    params = f'{TWIN}family = "{family}"\ngangs = "{gangs}"\ncentre_gap = {gap}\n'
    return board("scissors crossover", params, WEST if feeds is None else feeds)


def turnout(
    family: str, feeds: dict[str, tuple[str, str]] | None = None, gaps: bool = False
) -> Scenario:
    fed = {"A": ("SN", "SS")} if feeds is None else feeds
    more = "frog_gaps = true\n" if gaps else ""
    return board("turnout", f'family = "{family}"\n{more}', fed)


def crossover(family: str, feeds: dict[str, tuple[str, str]], gaps: bool = False) -> Scenario:
    more = "frog_gaps = true\n" if gaps else ""
    return board("single crossover", f'{TWIN}family = "{family}"\n{more}', feeds)


def every_board() -> dict[str, Scenario]:
    """Every library piece, in every family, fed in ways that leave something to cure."""
    mixed = {"A": WEST["A"], "B": EAST["B"]}
    made: dict[str, Scenario] = {}
    for family in FAMILIES:
        made[f"turnout, {family}"] = turnout(family)
        made[f"turnout from its leg, {family}"] = turnout(family, {"A": ("SN", _HT[family])})
        made[f"crossover, {family}"] = crossover(family, mixed)
        made[f"scissors, {family}"] = scissors(family)
        made[f"scissors without centre gap, {family}"] = scissors(family, centre_gap=False)
    for family in (FAMILIES[0], FAMILIES[4]):
        made[f"turnout with frog gaps, {family}"] = turnout(family, gaps=True)
        made[f"crossover with frog gaps, {family}"] = crossover(family, mixed, True)
    plain = {
        "straight": "length_mm = 100\n",
        "curve": "radius_mm = 200\nangle_deg = 30\n",
        "siding end": "length_mm = 100\n",
        "feeder length": "",
    }
    for kind, params in plain.items():
        made[kind] = board(kind, params, {"A": ("north", "south")})
    cut = {"A": ("north-west", "south-west")}
    made["insulated straight"] = board("insulated straight", "length_mm = 100\n", cut)
    for family in SLIP_FAMILIES:
        outer = {"A": ("outer-A-B", "outer-B-A")}
        made[f"double slip, {family}"] = board("double slip", f'family = "{family}"\n', outer)
    leg = {"A": ("outer-A-B", "west-frog")}
    made["double slip from its leg"] = board("double slip", "", leg)
    made["diamond"] = board(
        "diamond crossing", "angle_deg = 30\n", {"A": ("A-north", "A-south")}
    )
    return made


_HT = {
    "live frog": "BN",
    "insulated frog, power routing": "HT",
    "insulated frog, all live": "HT",
    "powered frog": "HT",
    "switched frog, bonded blades": "F",
    "metal frog, slide-routed": "HT",
}


def between_text(gangs: str = "all", board_mm: float = 620.0) -> str:
    """A live-frog scissors with centre gaps between two plain boards, fed from the west."""
    text = HEAD
    for loop in "AB":
        text += f'[[supply]]\nname = "cab {loop}"\n'
        text += f'[[district]]\nname = "loop {loop}"\nsupply = "cab {loop}"\n'
        text += f'sections = ["*/{loop}/*", "board/scissors/{loop}-*"]\n'
        text += f'[[feeder]]\nname = "feed {loop}"\nsupply = "cab {loop}"\n'
        text += f'plus = "west/{loop}/north"\nminus = "west/{loop}/south"\n'
    for name in ("west", "east"):
        text += f'[[module]]\nname = "{name}"\n'
        for loop in "AB":
            text += f'[[module.piece]]\nname = "{loop}"\nkind = "straight"\nlength_mm = 310\n'
    text += f'[[module]]\nname = "board"\nlength_mm = {board_mm}\n[[module.piece]]\n'
    text += f'name = "scissors"\nkind = "scissors crossover"\n{TWIN}gangs = "{gangs}"\n'
    return text + '[[line]]\nmodules = ["west", "board", "east"]\n'


def between(gangs: str = "all", board_mm: float = 620.0) -> Scenario:
    return scenario_from_text(between_text(gangs, board_mm))


def ringed_crossover() -> Scenario:
    """A live-frog single crossover in two rings: each is fed from beyond its frog too."""
    text = HEAD
    for loop in "AB":
        text += f'[[supply]]\nname = "cab {loop}"\n'
        text += f'[[district]]\nname = "loop {loop}"\nsupply = "cab {loop}"\n'
        text += f'sections = ["west/{loop}/*", "board/piece/{loop}-*"]\n'
        text += f'[[feeder]]\nname = "feed {loop}"\nsupply = "cab {loop}"\n'
        text += f'plus = "west/{loop}/north"\nminus = "west/{loop}/south"\n'
    text += '[[module]]\nname = "west"\n'
    for loop in "AB":
        text += f'[[module.piece]]\nname = "{loop}"\nkind = "straight"\nlength_mm = 310\n'
    text += '[[module]]\nname = "board"\n[[module.piece]]\nname = "piece"\n'
    text += f'kind = "single crossover"\n{TWIN}'
    return scenario_from_text(text + '[[line]]\nmodules = ["west", "board"]\nring = true\n')
