"""The door: parsing, wiring, exit codes. Standard output is data, standard error is talk.

Every command imports what it needs when it runs, so that help and lists load no screen and no engine.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from tracker import __version__
from tracker.core.text import shown

if TYPE_CHECKING:
    from tracker.core.protocol import Protocol
    from tracker.journal.archive import Archive, CaseFile
    from tracker.theatre.app import Room
    from tracker.theatre.settings import Settings

DONE: Final = 0
FINDINGS: Final = 1
USAGE: Final = 2
DAMAGED: Final = 3
IN_USE: Final = 4
NOT_KEPT: Final = 5

DEMO_PERIOD_S: Final = 0.1

EXIT_CODES: Final = {
    DONE: "done",
    FINDINGS: "findings: the file was read, and something in it is to be mended",
    USAGE: "usage: the command's words, or a name that is not there",
    DAMAGED: "damaged or unreadable input",
    IN_USE: "the case is being written by another Clockhour",
    NOT_KEPT: "the disk took not everything",
}


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="clockhour",
        description="A timed record of vitreoretinal theatre. A record and learning aid, not a medical"
        " device: it replaces no checklist, count board or operation note.",
    )
    parser.add_argument("--version", action="version", version=f"clockhour {__version__}")
    parser.add_argument("--archive", type=Path, metavar="DIR", help="where cases live (or CLOCKHOUR_ARCHIVE)")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND")
    _theatre_parser(commands)
    _record_parser(commands)
    _archive_parser(commands)
    _protocol_parser(commands)
    _demo_parser(commands)
    return parser


def _theatre_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    theatre = commands.add_parser("theatre", help="start a case from a protocol, or resume an open one")
    theatre.add_argument("what", metavar="PROTOCOL|CASE", help="a protocol's id or file, or a case code")
    theatre.add_argument("--site", metavar="LETTERS", help="the letters that case codes begin with")
    theatre.add_argument("--theme", metavar="NAME", help="lamp, daylight, stark or plain")
    theatre.set_defaults(run=_theatre)


def _record_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    record = commands.add_parser("record", help="write the timed record of a case")
    record.add_argument("case", metavar="CASE")
    record.add_argument("--to", type=Path, required=True, metavar="DIR")
    record.add_argument("--as", dest="formats", default="toml,md,csv,json", metavar="FORMATS")
    record.set_defaults(run=_record)


def _archive_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    archive = commands.add_parser("archive", help="the cases on disk: list, verify")
    verbs = archive.add_subparsers(dest="verb", metavar="VERB", required=True)
    verbs.add_parser("list", help="every case and what state its file is in").set_defaults(run=_archive_list)
    verify = verbs.add_parser("verify", help="check every line; name the first broken one")
    verify.add_argument("cases", metavar="CASE", nargs="*")
    verify.set_defaults(run=_archive_verify)
    mend = verbs.add_parser("mend", help="set a damaged rest aside and go on from what is sound")
    mend.add_argument("case", metavar="CASE")
    mend.set_defaults(run=_archive_mend)


def _protocol_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    protocol = commands.add_parser("protocol", help="protocol files: list, show, check")
    verbs = protocol.add_subparsers(dest="verb", metavar="VERB", required=True)
    verbs.add_parser("list", help="the protocols there are").set_defaults(run=_protocol_list)
    for verb, run, does in (
        ("show", _protocol_show, "print a protocol, stage by stage"),
        ("check", _protocol_check, "say everything that is to be mended in a file"),
    ):
        parser = verbs.add_parser(verb, help=does)
        parser.add_argument("file", metavar="FILE|ID")
        parser.set_defaults(run=run)


def _demo_parser(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    demo = commands.add_parser("demo", help="an invented case from end to end")
    demo.add_argument("--to", type=Path, default=Path("clockhour-demo"), metavar="DIR")
    demo.add_argument("--speed", type=float, default=120.0, help="in a terminal: case seconds a second (120)")
    demo.set_defaults(run=_demo)


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and give its exit code."""
    parser = _parser()
    args = parser.parse_args(words)
    if args.command is None:
        parser.print_help()
        return USAGE
    run: Callable[[argparse.Namespace], int] = args.run
    try:
        return run(args)
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return DONE
    except Exception as refusal:
        code = _exit_code(refusal)
        if code is None:
            raise
        _talk(refusal)
        return code


def _exit_code(refusal: Exception) -> int | None:
    """The exit code of something that stands in the way and says so in a sentence; None for anything else."""
    from tracker.journal.cases import NotReadable
    from tracker.journal.shelf import ProtocolUnreadable
    from tracker.journal.trouble import Damaged, InUse, NotKept, OutOfReach, Trouble

    kinds: dict[type[Trouble], int] = {
        InUse: IN_USE, Damaged: DAMAGED, NotReadable: DAMAGED, ProtocolUnreadable: DAMAGED,
        NotKept: NOT_KEPT, OutOfReach: NOT_KEPT, Trouble: USAGE,
    }  # fmt: skip
    return next((code for kind, code in kinds.items() if isinstance(refusal, kind)), None)


def _talk(*sentences: object) -> None:
    for sentence in sentences:
        print(sentence, file=sys.stderr)


def _archive_of(args: argparse.Namespace) -> Archive:
    from tracker.journal.archive import Archive, default_folder

    return Archive(args.archive or default_folder(os.environ))


def _loaded(text: str, source: str) -> Protocol | None:
    """The protocol of a text; its findings are said, and then there is none."""
    from tracker.core.loading import load_protocol

    loaded = load_protocol(text, source)
    _talk(*loaded.findings)
    return loaded.protocol


# -- theatre


def _settings(args: argparse.Namespace) -> Settings:
    """The station's settings with what the command line says; what is wrong with them is said."""
    from tracker.theatre.settings import read_settings, settings_from, settings_path

    settings = read_settings(settings_path(os.environ))
    said = {key: value for key in ("theme", "site") if (value := getattr(args, key))}
    spoken = settings_from("\n".join(f"{k} = {json.dumps(v)}" for k, v in said.items()), "command line")
    _talk(*settings.findings, *spoken.findings)
    return replace(settings, **{key: getattr(spoken, key) for key in said})


def _theatre(args: argparse.Namespace) -> int:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        _talk("The live screen needs a terminal.")
        return USAGE
    archive = _archive_of(args)
    return _resume(args, archive) if args.what in archive.codes() else _start(args, archive)


def _start(args: argparse.Namespace, archive: Archive) -> int:
    from tracker.journal.shelf import find_protocol, shelves
    from tracker.theatre.live import opening

    path, text = find_protocol(args.what, shelves(archive.folder))
    protocol = _loaded(text, path.name)
    if protocol is None:
        return FINDINGS
    return _play(opening(protocol, text, archive, _settings(args)))


def _resume(args: argparse.Namespace, archive: Archive) -> int:
    from tracker.theatre.live import resumed

    return _play(resumed(archive, args.what, _settings(args)))


def _play(room: Room) -> int:
    from tracker.theatre.app import TheatreApp

    app = TheatreApp(room)
    try:
        app.run()
    finally:
        app.room.close()
    return DONE


# -- the record


def _record(args: argparse.Namespace) -> int:
    names = tuple(name.strip() for name in args.formats.split(",") if name.strip())
    return _record_to(_archive_of(args), args.case, args.to, names)


def _record_to(archive: Archive, code: str, folder: Path, names: tuple[str, ...]) -> int:
    from tracker.journal.cases import case_of
    from tracker.review.record import build, formats

    if unknown := [name for name in names if name not in formats.FORMATS]:
        _talk(f"No such format: {', '.join(unknown)}. There are {', '.join(formats.FORMATS)}.")
        return USAGE
    read = archive.read(code)
    case = case_of(read)
    record = build.build(case, case.last_t, read.head, len(read.events))
    for path in formats.write(record, folder, names):
        print(path)
    return DONE


# -- the archive


def _archive_list(args: argparse.Namespace) -> int:
    entries = _archive_of(args).entries()
    for entry in entries:
        print(_case_line(entry))
    if not entries:
        _talk("No cases yet.")
    return DONE


def _case_line(entry: CaseFile) -> str:
    if entry.opened is None:
        return f"{entry.name:<14} {entry.state:<8} {shown(entry.what)}"
    return f"{entry.code:<14} {entry.state:<8} {entry.opened:%Y-%m-%d %H:%M}  {entry.entries:>5} entries"


def _archive_verify(args: argparse.Namespace) -> int:
    archive = _archive_of(args)
    codes = args.cases or archive.codes()
    findings = [f for code in codes for f in archive.verify(code)]
    for finding in findings:
        print(shown(str(finding)))
    _talk(f"{len(codes)} verified, {len(findings)} with a finding.")
    return DAMAGED if findings else DONE


def _archive_mend(args: argparse.Namespace) -> int:
    mended = _archive_of(args).mend(args.case)
    if mended is None:
        print(f"{args.case} is sound: nothing to mend.")
    else:
        print(
            f"{args.case}: {mended.kept} entries kept; the rest lies in {mended.aside}, "
            f"the original in {mended.damaged}."
        )
    return DONE


# -- protocols


def _protocol_list(args: argparse.Namespace) -> int:
    from tracker.journal.shelf import list_protocols, shelves

    for listed in list_protocols(shelves(_archive_of(args).folder)):
        reviewed = f"reviewed by {listed.reviewed_by}" if listed.reviewed_by else "not reviewed locally"
        state = f"{listed.findings} findings" if listed.findings else reviewed
        print(f"{listed.id:<20} {listed.version:<10} {listed.title}  ({listed.steps} steps; {state})")
    return DONE


def _protocol_show(args: argparse.Namespace) -> int:
    from tracker.core.outline import outline
    from tracker.journal.shelf import find_protocol, shelves

    path, text = find_protocol(args.file, shelves(_archive_of(args).folder))
    protocol = _loaded(text, path.name)
    if protocol is None:
        return FINDINGS
    print("\n".join(outline(protocol)))
    return DONE


def _protocol_check(args: argparse.Namespace) -> int:
    from tracker.core.loading import load_protocol
    from tracker.journal.shelf import find_protocol, shelves

    path, text = find_protocol(args.file, shelves(_archive_of(args).folder))
    findings = load_protocol(text, path.name).findings
    for finding in findings:
        print(finding)
    _talk(f"{path.name}: {len(findings)} findings." if findings else f"{path.name}: no findings.")
    return FINDINGS if findings else DONE


# -- the demonstration


def _demo(args: argparse.Namespace) -> int:
    from tracker.core.deviations import deviations
    from tracker.core.timeline import timeline
    from tracker.core.timeline_text import text_timeline
    from tracker.journal.archive import Archive
    from tracker.journal.shelf import find_protocol, shipped
    from tracker.theatre.demo import PROTOCOL, begin

    path, text = find_protocol(PROTOCOL, [shipped()])
    protocol = _loaded(text, path.name)
    if protocol is None:
        return FINDINGS
    archive = Archive(args.to / "cases")
    demo = begin(protocol, text, archive, step_s=args.speed * DEMO_PERIOD_S)
    if sys.stdin.isatty() and sys.stdout.isatty():
        from tracker.theatre.app import TheatreApp

        TheatreApp(demo, period_s=DEMO_PERIOD_S).run()
    demo.play()
    demo.close()
    case = demo.desk.case
    width = max(80, min(160, os.get_terminal_size().columns if sys.stdout.isatty() else 100))
    print("An invented case in an invented unit. Nothing in it happened.\n")
    print("\n".join(text_timeline(timeline(case, case.last_t), width)))
    print(
        f"\n{len(case.events)} entries, {demo.pressed} keys, {len(deviations(case, case.last_t))} deviations."
    )
    return _record_to(archive, case.code, args.to / "record", ("toml", "md", "csv", "json"))
