"""The inputs: demos, random layouts, spoiled files and forms, each in a folder of its own."""

from __future__ import annotations

import random
import shutil
import tomllib
from pathlib import Path

from tests.guard.calls import READINGS, SCENARIO
from tests.guard.forms import form_texts, readings_text
from tests.guard.layouts import layout_text

ROOT = Path(__file__).resolve().parents[2]
LAYOUTS, SPOILED = 50, 16
#: The layouts and spoiled files of the quick mode: of every shape, and of the fast ones.
QUICK_LAYOUTS = (0, 1, 2, 3, 4, 5, 7, 8, 9, 11)
QUICK_SPOILED = range(6)


def make_inputs(folder: Path, quick: bool = False) -> None:
    """Write all inputs into ``folder``, which is made."""
    _put(folder / "plain", "empty.txt", "")
    for path in sorted((ROOT / "scenarios").glob("*.toml")):
        _put_scenario(folder / f"demo-{path.stem}", path.read_text("utf-8"), 0)
    for seed in QUICK_LAYOUTS if quick else range(LAYOUTS):
        _put_scenario(folder / f"random-{seed:02}", layout_text(seed), seed)
    for seed in QUICK_SPOILED if quick else range(SPOILED):
        _put(folder / f"bad-{seed:02}", SCENARIO, spoiled_text(seed))
    for name, text in form_texts().items():
        _put(folder / name, "form.toml", text)


def take_inputs(folder: Path, other: Path, quick: bool = False) -> None:
    """Take over the inputs that another writing left beside its outputs."""

    def passed_over(_: str, names: list[str]) -> list[str]:
        return [name for name in names if quick and not _is_quick(name)]

    shutil.copytree(other / "inputs", folder, ignore=passed_over)


def _is_quick(name: str) -> bool:
    """Whether the quick mode takes the folder of that name (files are all taken)."""
    kind, _, number = name.partition("-")
    if kind == "random":
        return int(number) in QUICK_LAYOUTS
    return kind != "bad" or int(number) in QUICK_SPOILED


def _put(folder: Path, name: str, text: str) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_text(text, "utf-8", newline="\n")


def _put_scenario(folder: Path, text: str, seed: int) -> None:
    _put(folder, SCENARIO, text)
    plain = [
        (module["name"], piece["name"])
        for module in tomllib.loads(text)["module"]
        for piece in module["piece"]
        if piece["kind"] in ("straight", "curve", "feeder length")
    ]
    _put(folder, READINGS, readings_text(seed, plain))


def spoiled_text(seed: int) -> str:
    """A random layout with a few lines gone, moved, or with another value."""
    rng = random.Random(f"guard spoiled {seed}")
    lines = layout_text(seed + 1000).splitlines()
    for _ in range(rng.randint(1, 4)):
        at = rng.randrange(len(lines))
        key, equals, _ = lines[at].partition(" = ")
        other = rng.choice(lines)
        if not equals:
            lines[at] = rng.choice([lines[at], "[[nonsense]]", "[run"])
        else:
            values = ('"nonsense"', "-5", "true", "[]", "1e400", '"3 furlongs"', "{ a = 1 }")
            value = rng.choice(values)
            lines[at] = rng.choice([f"{key} = {value}", f"{key}s = 1", other, ""])
    return "\n".join(lines) + "\n"
