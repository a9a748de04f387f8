"""A seeded typist who slips, at the desk of one commit or of two: which slips write what nobody meant.

    PYTHONPATH=tests python tests/bench/typist.py --against 01299dd

logs the same hard cases at the desk of the working tree and at that of a commit before it, side by side, and
prints both. Without `--against` it logs them at one desk and prints the figures as JSON.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import subprocess
import sys
import tarfile
import tempfile
import time
from pathlib import Path
from random import Random
from typing import Any

from bench.hard_cases import hard_case
from bench.tally import WORDS, Tally, ratio, share, total

ROOT = Path(__file__).resolve().parents[2]
BEFORE = "01299dd"
"""The last commit at which a letter meant what it means in the stage shown, and the board moved by itself."""


def log_cases(tree: Path, seed: int, cases: range, slips: float, *, tell: bool = False) -> Tally:
    """Log hard cases at the desk of a tree, which is the one that `tracker` is imported from."""
    import tracker
    from bench.key_rules import rule_of_tree
    from bench.textbook_keys import cost_of_textbook
    from bench.typing_person import Typist

    assert Path(tracker.__file__).resolve().is_relative_to(tree.resolve()), tracker.__file__
    started, tally, rule = time.process_time(), Tally(), rule_of_tree()
    for n in cases:
        typist = Typist(hard_case(f"{seed}/{n}"), rule, Random(f"{seed}/{n}/hand"), slips, tally)
        if tell:
            typist.trail = print
        typist.log()
        typist.settle()
    cost = cost_of_textbook(rule)
    tally.rule, tally.textbook_steps = rule.name, cost.steps
    tally.textbook_ticks, tally.textbook_beside = cost.ticks, cost.beside
    tally.seconds = round(time.process_time() - started, 1)
    return tally


def unpack(revision: str, folder: Path) -> None:
    """The files of a commit, into a folder."""
    words = ["git", "-C", str(ROOT), "archive", "--format=tar", revision, "tracker", "protocols"]
    done = subprocess.run(words, capture_output=True, check=False)
    if done.returncode:
        raise SystemExit(f"{revision} cannot be had from this clone: {done.stderr.decode().strip()}")
    with tarfile.open(fileobj=io.BytesIO(done.stdout)) as packed:
        packed.extractall(folder, filter="data")


def side_by_side(trees: list[Path], chosen: argparse.Namespace) -> list[dict[str, Any]]:
    """One process a tree, all at the same time; what each printed."""
    ours = ["--seed", str(chosen.seed), "--cases", str(chosen.cases), "--slips", str(chosen.slips)]
    environment = {**os.environ, "PYTHONPATH": str(ROOT / "tests")}
    running = [
        subprocess.Popen(
            [sys.executable, __file__, "--tree", str(tree), *ours], stdout=subprocess.PIPE, env=environment
        )
        for tree in trees
    ]
    printed = [process.communicate()[0] for process in running]
    if any(process.returncode for process in running):
        raise SystemExit("a typist ended with a traceback, printed above")
    return [json.loads(text) for text in printed]


# -- the table


def table(before: dict[str, Any], now: dict[str, Any], names: tuple[str, str]) -> str:
    """Both commits: each kind of slip, then what the cases cost."""
    rows = [
        "| slips | commit | slips | wrote an entry nobody meant | the screen shows it | two keys mend it |"
    ]
    rows.append("|---|---|---|---|---|---|")
    for words, kind in [*((w, k) for k, w in WORDS.items()), ("all", "")]:
        for name, run in zip(names, (before, now), strict=True):
            of = run["kinds"][kind] if kind else total(run["kinds"])
            cells = [
                share(of["wrote"], of["slips"]),
                *(share(of[c], of["wrote"]) for c in ("shown", "mended")),
            ]
            rows.append(f"| {words} | {name} | {of['slips']} | {' | '.join(cells)} |")
    rows += ["", f"| beside | {names[0]} | {names[1]} |", "|---|---|---|"]
    rows += [
        f"| {what} | {old} | {new} |"
        for (what, old), (_, new) in zip(beside(before), beside(now), strict=True)
    ]
    old, new = total(before["kinds"]), total(now["kinds"])
    part, low, high = ratio(new["wrote"], new["slips"], old["wrote"], old["slips"])
    rows += ["", f"Share of slips that write, {names[1]} to {names[0]}: {part:.3f} ({low:.3f} to {high:.3f})"]
    return "\n".join(rows)


def beside(run: dict[str, Any]) -> list[tuple[str, str]]:
    """What is told of a run beside its slips."""
    slips, keys = total(run["kinds"]), run["keys"]
    asked, steps = slips["asked"], run["textbook_steps"]
    whole = run["textbook_ticks"] + run["textbook_beside"]
    return [
        ("the rule", run["rule"]),
        ("cases, keys", f"{run['cases']}, {keys}"),
        ("slips that wrote only another answer than meant where one was asked", share(asked, slips["slips"])),
        ("slips that wrote what nothing asked", share(slips["wrote"] - asked, slips["slips"])),
        ("entries nobody meant, a slip that wrote", f"{slips['entries'] / max(1, slips['wrote']):.2f}"),
        ("entries nobody meant, written after the next look, a case", f"{run['later'] / run['cases']:.2f}"),
        ("entries nobody meant that stand at the end, a case", f"{run['left'] / run['cases']:.2f}"),
        ("entries meant and lost, in 1,000 intentions", f"{1000 * run['lost'] / run['intentions']:.1f}"),
        ("strikes, in 100 keys", f"{100 * run['strikes'] / keys:.2f}"),
        ("keys a step, textbook case, ticks alone", f"{run['textbook_ticks'] / steps:.2f}"),
        ("keys a step, textbook case, with choices and required readings", f"{whole / steps:.2f}"),
        (
            "blind slips in which the board showed another stage",
            share(run["blind_apart"], run["kinds"]["blind"]["slips"]),
        ),
        ("processor seconds", f"{run['seconds']}"),
    ]


def chosen_words() -> argparse.Namespace:
    """What the command line says."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--tree", type=Path, default=ROOT, help="folder of the commit under test")
    parser.add_argument("--against", nargs="?", const=BEFORE, help=f"a commit to set beside it ({BEFORE})")
    parser.add_argument("--seed", type=int, default=11)
    parser.add_argument("--cases", type=int, default=1000)
    parser.add_argument("--slips", type=float, default=0.03, help="share of keys that are slips")
    parser.add_argument("--tell", type=int, metavar="CASE", help="print every key of one case instead")
    return parser.parse_args()


def main() -> None:
    """Print the figures of one commit as JSON, or the table of two."""
    chosen = chosen_words()
    if chosen.against:
        with tempfile.TemporaryDirectory() as name:
            unpack(chosen.against, Path(name))
            before, now = side_by_side([Path(name), chosen.tree.resolve()], chosen)
        print(table(before, now, (chosen.against, "this tree")))
        return
    sys.path.insert(0, str(chosen.tree.resolve()))
    if chosen.tell is not None:
        log_cases(chosen.tree, chosen.seed, range(chosen.tell, chosen.tell + 1), chosen.slips, tell=True)
        return
    print(json.dumps(log_cases(chosen.tree, chosen.seed, range(chosen.cases), chosen.slips).as_dict()))


if __name__ == "__main__":
    main()
