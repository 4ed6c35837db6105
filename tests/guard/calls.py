"""What the guard asks of the program: command lines, by the kind of input."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

SCENARIO = "scenario.toml"
READINGS = "readings.toml"


@dataclass(frozen=True, slots=True)
class Call:
    """One command line. ``name`` names its outputs; ``{}`` in a word is that name."""

    name: str
    words: tuple[str, ...]
    typed: str = ""

    @property
    def argv(self) -> list[str]:
        """The words as they are given to the program."""
        return [word.replace("{}", self.name) for word in self.words]


def _call(name: str, command: str, *words: str, typed: str = "") -> Call:
    """With JSON beside the text."""
    return Call(name, (command, *words, "--json", "{}.json"), typed)


def calls_for(folder: Path, group: str) -> list[Call]:
    """The calls on one input. Paths are seen from the folder of its outputs."""
    at = f"../../inputs/{folder.name}"
    kind = folder.name.partition("-")[0]
    if kind == "plain":
        return _plain(at)
    if kind == "form":
        return _of_form(f"{at}/form.toml")
    if kind == "bad":
        return _of_bad(f"{at}/{SCENARIO}")
    return _of_scenario(folder, f"{at}/{SCENARIO}", group)


def groups_of(folder: Path) -> list[str]:
    """Parts that can be done apart: what compares all fixes, as built, each fix."""
    if not (folder / SCENARIO).exists() or folder.name.startswith("bad"):
        return [""]
    return ["all", "built", *(str(k) for k in range(len(_fixes(folder))))]


def _fixes(folder: Path) -> list[str]:
    return [fix["name"] for fix in _read(folder).get("fix", ())]


def _read(folder: Path) -> dict[str, Any]:
    return tomllib.loads((folder / SCENARIO).read_text("utf-8"))


def _plain(at: str) -> list[Call]:
    """What needs no scenario; and what is said of arguments that cannot be used."""
    kinds = (
        "straight",
        "insulated straight",
        "turnout",
        "single crossover",
        "scissors crossover",
        "diamond crossing",
        "own piece",
        "nonsense",
    )
    return [
        Call("help", ("--help",)),
        Call("version", ("--version",)),
        Call("nothing", ()),
        Call("unknown", ("nonsense",)),
        _call("schema", "schema"),
        Call("schema-text", ("schema",)),
        _call("demo-list", "demo"),
        # its text names the folder of the tree, and folds accordingly: JSON alone
        Call("demo-run", ("demo", "branch-terminus", "--runs=2", "--workers=1", "--json=-")),
        Call("demo-none", ("demo", "nonsense")),
        Call("demo-copy", ("demo", "loose-gang", "--copy", "{}.toml")),
        *(
            Call(f"missing-{c}", (c, "missing.toml"))
            for c in ("check", "run", "view", "states")
        ),
        Call("film-missing", ("film", "missing.toml", "--out", "x.gif")),
        Call("run-no-file", ("run",)),
        _call("new-asked", "new", "{}.toml", typed="\n" * 12),
        *(
            _call(
                f"new-{k}",
                "new",
                "{}.toml",
                *("--gauge", str(k), "--piece", str(k), "--family", str(k)),
                *("--centre-gap", "1", "--board", "900", "--fed", "1"),
                typed="\n" * 12,
            )
            for k in (1, 2, 3)
        ),
        *(Call(f"blank-{kind}", ("learn", "--blank", "--kind", kind)) for kind in kinds),
    ]


def _of_form(form: str) -> list[Call]:
    ask = Call("learn-ask", ("learn", form, "--ask", "--save", "{}.toml"), "open\njoined\ne\n")
    return [
        _call("learn", "learn", form, "--piece", "{}.toml"),
        _call("learn-models", "learn", form, "--models", "3"),
        Call("learn-blank", ("learn", form, "--blank")),
        *([ask] if "-few-" in form else []),
    ]


def _of_bad(file: str) -> list[Call]:
    return [
        _call("check", "check", file),
        _call("states", "states", file),
        Call("run", ("run", file, "--fix", "nonsense")),
    ]


def _of_scenario(folder: Path, file: str, group: str) -> list[Call]:
    demo = folder.name.startswith("demo")
    if group == "all":
        return _of_all(file, demo)
    names = _fixes(folder)
    fix = ("--fix", names[int(group)]) if group != "built" else ()
    calls = _of_case(folder, file, group, fix)
    if group != "built" and not demo:  # of random layouts each fix takes a part in turn
        start = int(group) + sum(folder.name.encode())
        first, rest = calls[:4], calls[4:]
        calls = first + rest[start % 3 :: 3]
    if fix:
        calls += [
            _call(f"worksheet-{group}", "worksheet", file, *fix),
            Call(f"page-{group}", ("worksheet", file, *fix, "--out", "{}.html")),
        ]
    return calls


def _of_all(file: str, demo: bool) -> list[Call]:
    runs = ("--runs", "2", "--workers", "1")
    few = (*runs, "--most", "2", "--found", "2")
    return [
        _call("check", "check", file),
        _call("compare", "compare", file, *runs, "--seed", "5"),
        _call("weigh", "weigh", file, *few),
        _call("report", "report", file, *runs, "--out", "{}.html"),
        _call(
            "campaign",
            "campaign",
            file,
            *runs,
            *("--band-runs", "1", "--hours", "0.05" if demo else "0.01"),
            *("--keep", "{}.kept", "--records", "{}.csv"),
        ),
        Call("blank", ("locate", file, "--blank")),
    ]


def _of_case(folder: Path, file: str, group: str, fix: tuple[str, ...]) -> list[Call]:
    """As built or with one fix. The first four are never left out."""

    def call(name: str, command: str, *words: str) -> Call:
        return _call(f"{name}-{group}", command, file, *fix, *words)

    each = ("--levers", "each")
    calls = [
        call("run", "run", "--seed", "3", "--records", "{}.csv"),
        call("states", "states"),
        call("volts", "volts"),
        call("picture", "picture", "--out", "{}.svg"),
        call("states-each", "states", *each),
        call("odds", "odds"),
        call("faults", "faults"),
        call("netlist", "netlist"),
        call("seek", "seek", "--most", "2" if fix else "3", "--out", "{}.toml"),
        call("locate", "locate"),
        call("chart", "picture", "--chart", "--out", "{}.svg"),
        call("moment", "picture", "--at", "20", "--ground", "dark", "--out", "{}.svg"),
        call("faults-two", "faults", "--depth", "2"),
        call("run-again", "run", "--seed", "11"),
        *(
            call(f"card-{module}", "card", "--module", module)
            for module in _with_levers(folder)[:1]
        ),
    ]
    if not fix:
        calls.append(call("odds-each", "odds", *each))
        if folder.name.startswith("demo"):  # of all the others it would take long
            sizes = ("--sizes", "every", "--settings", "gangs")
            calls.append(call("sizes", "seek", "--most", "2", *sizes))
        else:
            calls.append(call("survive", "seek", "--survive", "contact", "--most", "2"))
    if not fix and (folder / READINGS).exists():
        readings = f"../../inputs/{folder.name}/{READINGS}"
        calls.append(call("located", "locate", "--readings", readings, "--reach", "top"))
    return calls


def _with_levers(folder: Path) -> list[str]:
    """Modules with levers, or else all."""
    modules = _read(folder)["module"]
    found = [
        m["name"]
        for m in modules
        if any(w in p["kind"] for p in m["piece"] for w in ("turnout", "crossover"))
    ]
    return found or [m["name"] for m in modules]
