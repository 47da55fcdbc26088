#!/usr/bin/env python3
"""Derives the ladder numbers that follow from load shares and checks the ladder files against them.

Run without arguments. Prints every derived difficulty and load share, the units three made-up profiles are predicted
to manage on each rung, and notes on order and gates. Exits with 1 when a derived difficulty differs from its own value
or sd by more than 0.005, a load share by more than 0.0006, a head comment from its prediction, or a belief does not
hold.

Difficulty step between two rungs of one movement family, easy share f1 and hard share f2 of body mass: somebody with
four reps on the hard one has, by 1RM = w (1 + 0.025 r) (O'Conner; form seen), r = (f2/f1 * 1.1 - 1) / 0.025 reps on the
easy one, and the step is ln(r / 4). Each rung is measured against its harder published neighbour, not against the far
anchor, because an athlete works near four reps on every rung they train: the step near four reps is the one that
decides when to move. Far below the working rung the sum of such steps promises more reps than O'Conner would; nobody
trains there. Going up from many easy reps it promises fewer, which errs on the easier side.
"""

import csv
import math
import re
import sys
import tomllib
from pathlib import Path
from typing import NamedTuple

HERE = Path(__file__).resolve().parent
MASSES = HERE.parent / "published" / "bsp_deleva_mass_cm.tsv"
TOLERANCE = 0.005
SHARE_TOLERANCE = 0.0006
BAND = {"reps": (3, 5), "hold-seconds": (8, 15), "lowering-seconds": (5, 10)}

# Mier 2014, IJES 7(2):161-168 (seen): share of body mass on the hands, men and women, top and bottom; plain mean.
MIER_PUSH_UP = (0.670 + 0.651 + 0.746 + 0.703) / 4
MIER_KNEE = (0.525 + 0.515 + 0.601 + 0.566) / 4
# Ebben 2011, JSCR 25(10):2891-4 (from memory; the ordering was seen). Keys: raise in cm, hands positive.
EBBEN = {61: 0.41, 30: 0.55, 0: 0.64, -30: 0.70, -61: 0.74}
# Melrose & Dawes, n=40 (seen): suspended row, body angle in degrees from vertical.
MELROSE = {30: 0.3744, 45: 0.5288, 60: 0.6808, 75: 0.7938}


def between(table: dict[int, float], at: float) -> float:
    """Straight line between the two published neighbours of `at`."""
    low = max(k for k in table if k <= at)
    high = min(k for k in table if k >= at)
    if low == high:
        return table[low]
    return table[low] + (table[high] - table[low]) * (at - low) / (high - low)


class Derived(NamedTuple):
    """One derived difficulty: its rung, the rung it is measured against, and both load shares."""

    rung: str
    ability: str
    share: float
    against: str
    against_share: float


def push(rung: str, share: float, against: str, against_share: float) -> Derived:
    return Derived(rung, "horizontal-push", share, against, against_share)


def row(rung: str, angle: float, against: str, against_angle: float) -> Derived:
    return Derived(rung, "horizontal-pull", between(MELROSE, angle), against, MELROSE[against_angle])


DERIVED = [
    push("push-up/hands-raised-61", EBBEN[61], "push-up/hands-raised-30", EBBEN[30]),
    push("push-up/hands-raised-45", between(EBBEN, 45), "push-up/hands-raised-30", EBBEN[30]),
    push("push-up/knee-push-up", MIER_KNEE, "push-up/push-up", MIER_PUSH_UP),
    push("push-up/hands-raised-30", EBBEN[30], "push-up/push-up", EBBEN[0]),
    push("push-up/hands-raised-15", between(EBBEN, 15), "push-up/push-up", EBBEN[0]),
    push("push-up/feet-raised-30", EBBEN[-30], "push-up/push-up", EBBEN[0]),
    push("push-up/feet-raised-61", EBBEN[-61], "push-up/feet-raised-30", EBBEN[-30]),
    push("press/floor-push-up", MIER_PUSH_UP, "push-up/push-up", MIER_PUSH_UP),
    row("row/row-30", 30, "row/row-45", 45),
    row("row/row-37", 37.5, "row/row-45", 45),
    row("row/row-45", 45, "row/row-60", 60),
    row("row/row-52", 52.5, "row/row-60", 60),
    row("row/row-60", 60, "row/row-75", 75),
    row("row/row-67", 67.5, "row/row-75", 75),
]


def masses() -> dict[str, float]:
    """Mean of the men's and women's mass share of each segment (de Leva 1996, Table 4)."""
    with MASSES.open(encoding="utf-8") as file:
        rows = csv.DictReader(file, delimiter="\t")
        return {r["segment"]: (float(r["mass_m"]) + float(r["mass_f"])) / 2 for r in rows}


def load_shares() -> dict[str, float]:
    """Share of body mass moved on the rungs where kilograms may be added or removed."""
    m = masses()
    arms = 1 - 2 * (m["forearm"] + m["hand"])
    one_leg = 1 - (m["shank"] + m["foot"])
    two_legs = 1 - 2 * (m["shank"] + m["foot"])
    shares = {f"row/row-{int(a)}": between(MELROSE, a) for a in (30, 37.5, 45, 52.5, 60, 67.5, 75)}
    shares |= {f"push-up/{r}": MIER_PUSH_UP for r in ("push-up", "close-hand-push-up")}
    shares |= {f"push-up/feet-raised-{cm}": MIER_PUSH_UP * EBBEN[-cm] / EBBEN[0] for cm in (30, 61)}
    shares |= {"press/floor-push-up": MIER_PUSH_UP}
    pulls = ("pull-up", "chest-to-bar", "uneven-grip", "archer", "side-to-side")
    one_arm = ("one-arm-strap", "one-arm-two-fingers", "one-arm-pull-up")
    shares |= {f"pull/{r}": arms for r in pulls + one_arm}
    shares |= {f"dips/{r}": arms for r in ("dip", "deep-dip", "straight-bar-dip")}
    shares |= {f"dips/{r}": arms for r in ("ring-dip", "turned-out-ring-dip")}
    shares |= {f"muscle-up/{r}": arms for r in ("bar-muscle-up", "ring-muscle-up")}
    shares |= {"one-leg-squat/two-leg-squat": two_legs}
    squats = ("box-high", "box-mid", "box-low", "raised", "one-leg-squat", "pause-and-a-half")
    shares |= {f"one-leg-squat/{r}": one_leg for r in squats}
    return shares


# Made-up athletes for the sanity check, ln units on each anchor. Common practice, no source.
PROFILES = {
    "beginner": {  # 2 pull-ups, 10 push-ups, 4 rows at 75 degrees, no free-standing balance
        "vertical-pull": math.log(2), "horizontal-pull": math.log(4), "vertical-push": -1.6,
        "horizontal-push": math.log(10), "straight-arm-pull": 0.5, "straight-arm-push": -0.7,
        "compression": math.log(3), "knee-extension": 0.0, "hamstring": -0.3, "hand-balance": -0.7,
        "single-leg-balance": math.log(5), "line": math.log(12),
    },
    "intermediate": {  # 8 pull-ups, 30 push-ups, 12 rows, 1 to 2 wall presses, 12 s tuck front lever, 8 s free balance
        "vertical-pull": math.log(8), "horizontal-pull": math.log(12), "vertical-push": 0.5,
        "horizontal-push": math.log(30), "straight-arm-pull": math.log(12), "straight-arm-push": math.log(4),
        "compression": math.log(12), "knee-extension": math.log(5), "hamstring": 1.2, "hand-balance": math.log(8),
        "single-leg-balance": math.log(12), "line": math.log(37),
    },
    "advanced": {  # 19 pull-ups, 50 push-ups, 22 rows, 9 wall presses, 40 s tuck front lever, 37 s free balance
        "vertical-pull": math.log(19), "horizontal-pull": math.log(22), "vertical-push": math.log(9),
        "horizontal-push": math.log(50), "straight-arm-pull": math.log(40), "straight-arm-push": math.log(20),
        "compression": math.log(30), "knee-extension": math.log(12), "hamstring": math.log(9),
        "hand-balance": math.log(37), "single-leg-balance": math.log(25), "line": math.log(90),
    },
}

# What the trade expects, common practice, no source: levels in anchor units, a rung, and the units it may predict.
BELIEFS = [
    ({"vertical-pull": 8}, "pull/one-arm-pull-up", 0.0, 0.5),
    ({"vertical-pull": 16}, "pull/one-arm-pull-up", 0.3, 0.9),
    ({"vertical-pull": 25}, "pull/one-arm-pull-up", 1.0, 2.0),
    ({"vertical-pull": 12}, "pull/archer", 3.0, 5.0),
    ({"vertical-pull": 1}, "pull/pull-up-lowering", 5.0, 10.0),
    ({"vertical-pull": 8, "horizontal-push": 30}, "muscle-up/ring-muscle-up", 0.0, 0.9),
    ({"vertical-pull": 14, "horizontal-push": 35}, "muscle-up/ring-muscle-up", 1.0, 2.5),
    ({"horizontal-push": 30}, "dips/dip", 8.0, 15.0),
    ({"horizontal-push": 30}, "push-up/one-arm-push-up", 0.0, 1.0),
    ({"horizontal-push": 55}, "push-up/one-arm-push-up", 1.0, 3.0),
    ({"vertical-push": 8, "hand-balance": 20, "line": 60}, "press/free-press", 1.0, 2.5),
    ({"vertical-push": 2, "hand-balance": 5, "line": 40}, "press/free-press", 0.0, 0.9),
    ({"straight-arm-pull": 12}, "front-lever/full", 0.0, 0.9),
    ({"straight-arm-pull": 60, "line": 60}, "front-lever/full", 2.0, 5.0),
    ({"straight-arm-push": 4}, "planche/straddle", 0.0, 0.9),
    ({"straight-arm-push": 20, "line": 60}, "planche/full", 0.3, 1.5),
    ({"compression": 12}, "l-sit/v-sit", 0.0, 2.0),
    ({"knee-extension": 1, "single-leg-balance": 8, "compression": 12}, "one-leg-squat/box-mid", 1.5, 4.0),
    ({"hamstring": 3}, "hamstring-lowering/full-return", 0.0, 0.9),
]


def read_ladders() -> dict[str, dict]:
    """Ladders by id."""
    found = {}
    for path in sorted(HERE.glob("*.toml")):
        ladder = tomllib.loads(path.read_text(encoding="utf-8"))
        found[ladder["id"]] = ladder | {"head": path.read_text(encoding="utf-8").split("\nid = ", 1)[0]}
    return found


def rungs_of(ladders: dict[str, dict]) -> dict[str, dict]:
    """Rungs by LADDER/RUNG, in file order."""
    return {f"{ladder}/{r['id']}": r for ladder, body in ladders.items() for r in body["rung"]}


def step(easy: float, hard: float) -> float:
    """Difficulty from the easy share to the hard one, ln units, at four reps on the hard one."""
    reps = (hard / easy * (1 + 0.025 * 4) - 1) / 0.025
    return math.log(reps / 4)


def own_difficulty(entry: Derived) -> float:
    """The derived difficulty of an entry, following its references up to the anchor."""
    harder = {d.rung: d for d in DERIVED}.get(entry.against)
    base = own_difficulty(harder) if harder else 0.0
    if entry.share <= entry.against_share:
        return base - step(entry.share, entry.against_share)
    return base + step(entry.against_share, entry.share)


def chain_length(entry: Derived) -> int:
    """How many derived steps lie between an entry and the anchor."""
    harder = {d.rung: d for d in DERIVED}.get(entry.against)
    return 1 + (chain_length(harder) if harder else 0)


def own_sd(entry: Derived) -> float:
    """Uncertainty of a derived difficulty: 0.10 a step (common practice, no source), steps taken as independent."""
    return 0.10 * math.sqrt(chain_length(entry))


def check_derived(rungs: dict[str, dict]) -> list[str]:
    """Compares derived difficulties with the files; every such entry must exist on both sides."""
    wrong = []
    missing = {"difficulty": math.nan, "sd": math.nan}
    marked = {(n, d["ability"]): d for n, r in rungs.items() for d in r["demand"] if d["basis"] == "derived"}
    own = {(e.rung, e.ability): (own_difficulty(e), own_sd(e)) for e in DERIVED}
    print(f"{'derived difficulty':<34}{'ability':<18}{'share':>7}{'own':>9}{'file':>9}{'own sd':>9}{'file sd':>9}")
    for entry in DERIVED:
        key = (entry.rung, entry.ability)
        difficulty, sd = own[key]
        filed = marked.get(key, missing)
        print(f"{entry.rung:<34}{entry.ability:<18}{entry.share:>7.4f}{difficulty:>9.3f}{filed['difficulty']:>9.3f}"
              f"{sd:>9.3f}{filed['sd']:>9.3f}")
        if not abs(filed["difficulty"] - difficulty) <= TOLERANCE:
            wrong.append(f"{entry.rung}: {entry.ability} should be {difficulty:.3f}")
        if not abs(filed["sd"] - sd) <= TOLERANCE:
            wrong.append(f"{entry.rung}: sd on {entry.ability} should be {sd:.2f}")
    for name, ability in sorted(marked.keys() - own.keys()):
        wrong.append(f"{name}: {ability} is marked derived, but nothing derives it")
    return wrong


def check_load_shares(rungs: dict[str, dict]) -> list[str]:
    """Compares load shares with the files, both ways."""
    wrong = []
    own = load_shares()
    filed = {n: r["load_share"] for n, r in rungs.items() if "load_share" in r}
    print(f"\n{'load share':<34}{'own':>9}{'file':>9}")
    for name, share in own.items():
        print(f"{name:<34}{share:>9.4f}{filed.get(name, math.nan):>9.4f}")
        if not abs(filed.get(name, math.nan) - share) <= SHARE_TOLERANCE:
            wrong.append(f"{name}: load share should be {share:.4f}")
    for name in sorted(filed.keys() - own.keys()):
        wrong.append(f"{name}: load share stands in the file, but nothing derives it")
    return wrong


def predict(rung: dict, levels: dict[str, float]) -> tuple[float, str]:
    """Units on a rung, the smallest over its abilities, and the ability that limits; unnamed abilities do not limit."""
    known = [d for d in rung["demand"] if d["ability"] in levels]
    units, limiter = min((levels[d["ability"]] - d["difficulty"], d["ability"]) for d in known)
    return math.exp(units), limiter


def check_beliefs(rungs: dict[str, dict]) -> list[str]:
    """Compares predictions with what the trade expects."""
    wrong = []
    for anchors, name, low, high in BELIEFS:
        units, _ = predict(rungs[name], {a: math.log(u) for a, u in anchors.items()})
        verdict = "ok" if low <= units <= high else "WRONG"
        print(f"belief {verdict}: {anchors} -> {name} {units:.2f}, expected {low} to {high}")
        if verdict != "ok":
            wrong.append(f"belief: {anchors} predicts {units:.2f} on {name}, expected {low} to {high}")
    return wrong


def check_heads(ladders: dict[str, dict]) -> list[str]:
    """Compares the sanity lines of head comments (`#   rung  units unit, limiter`) with the intermediate profile."""
    wrong = []
    for ladder, body in ladders.items():
        filed = re.findall(r"^#   .+$", body["head"], re.MULTILINE)
        own = []
        for rung in body["rung"]:
            units, limiter = predict(rung, PROFILES["intermediate"])
            own.append(f"#   {rung['id']:<28}{units:>7.1f} {rung['unit']}, {limiter}")
        if filed != own:
            wrong.append(f"{ladder}: the sanity lines of the head comment should be\n" + "\n".join(own))
    return wrong


def band_middle(rung: dict) -> float:
    """ln of the middle of the working band."""
    low, high = rung.get("band", BAND[rung["unit"]])
    return math.log((low + high + 1) / 2)


def check_ends(rungs: dict[str, dict]) -> list[str]:
    """The far rungs of each road are out of reach of the intermediate profile (common practice, no source)."""
    names = ("pull/one-arm-pull-up", "front-lever/full", "planche/straddle", "press/free-press-deep",
             "l-sit/high-v-sit", "push-up/one-arm-push-up", "hand-balance/one-arm-straddle",
             "press-to-handstand/l-sit-press", "muscle-up/slow-ring-muscle-up",
             "hamstring-lowering/full-return-overhead", "back-lever/full-raise")
    wrong = []
    for name in names:
        units, _ = predict(rungs[name], PROFILES["intermediate"])
        if units >= 1:
            wrong.append(f"{name}: the intermediate profile should not manage one, yet {units:.2f} are predicted")
    return wrong


def print_predictions(ladders: dict[str, dict]) -> None:
    """Predicted units of each profile, and where they stand to the band: below `.`, inside `=`, above `^`."""
    for ladder, body in ladders.items():
        print(f"\n{ladder:<32}" + "".join(f"{p:>16}" for p in PROFILES))
        for rung in body["rung"]:
            low, high = rung.get("band", BAND[rung["unit"]])
            cells = ""
            for levels in PROFILES.values():
                units, limiter = predict(rung, levels)
                mark = "." if units < low else "=" if units < high + 1 else "^"
                cells += f"{units:>9.1f} {mark} {limiter[:4]}"
            print(f"  {rung['id']:<30}{cells}  {rung['unit']}")


def print_notes(ladders: dict[str, dict], rungs: dict[str, dict]) -> None:
    """Notes to look at: rungs easier than the one before, and gates out of reach of someone ready for the rung."""
    for ladder, body in ladders.items():
        for before, rung in zip(body["rung"], body["rung"][1:]):
            easier = []
            for profile, levels in PROFILES.items():
                ease = [math.log(predict(r, levels)[0]) - band_middle(r) for r in (before, rung)]
                if ease[1] > ease[0] + 0.05:
                    easier.append(f"{profile} {ease[1] - ease[0]:+.2f}")
            if easier:
                print(f"note: {ladder}/{rung['id']} looks easier than {before['id']}: {', '.join(easier)}")
    for name, rung in rungs.items():
        ready = {d["ability"]: d["difficulty"] + band_middle(rung) for d in rung["demand"]}
        for gate in (g for g in rung.get("gate", []) if "rung" in g):
            shared = {d["ability"] for d in rungs[gate["rung"]]["demand"]} & ready.keys()
            units = predict(rungs[gate["rung"]], ready)[0] if shared else math.inf
            if units < gate["at_least"]:
                print(f"note: {name} asks {gate['at_least']} of {gate['rung']}, someone ready for it has {units:.1f}")


def main() -> int:
    ladders = read_ladders()
    rungs = rungs_of(ladders)
    wrong = check_derived(rungs) + check_load_shares(rungs)
    print_predictions(ladders)
    print()
    wrong += check_beliefs(rungs) + check_ends(rungs) + check_heads(ladders)
    print_notes(ladders, rungs)
    print(f"\n{len(ladders)} ladders, {len(rungs)} rungs, {len(wrong)} wrong")
    for line in wrong:
        print(line, file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
