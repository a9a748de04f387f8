"""`clockhour protocol`: the protocol files."""

from __future__ import annotations

import argparse
import re

from tracker.commands.common import archive_of, loaded, talk
from tracker.commands.exits import DONE, FINDINGS, USAGE
from tracker.core.loading import letter_remarks, load_protocol
from tracker.core.outline import outline
from tracker.journal.shelf import find_protocol, list_protocols, new_protocol, shelves


def list_all(args: argparse.Namespace) -> int:
    """Print the protocols there are, with their review state."""
    for listed in list_protocols(shelves(archive_of(args).folder)):
        reviewed = f"reviewed by {listed.reviewed_by}" if listed.reviewed_by else "not reviewed locally"
        state = f"{listed.findings} findings" if listed.findings else f"{listed.steps} steps; {reviewed}"
        print(f"{listed.id:<20} {listed.version:<10} {listed.title}  ({state})")
    return DONE


def show(args: argparse.Namespace) -> int:
    """Print a protocol, stage by stage."""
    path, text = find_protocol(args.file, shelves(archive_of(args).folder))
    protocol = loaded(text, path.name)
    if protocol is None:
        return FINDINGS
    print("\n".join(outline(protocol)))
    return DONE


def check(args: argparse.Namespace) -> int:
    """Print everything that is to be mended in a file."""
    path, text = find_protocol(args.file, shelves(archive_of(args).folder))
    findings = load_protocol(text, path.name).findings
    remarks = () if findings else letter_remarks(text, path.name)
    for finding in (*findings, *remarks):
        print(finding)
    talk(f"{path.name}: {len(findings)} findings." if findings else f"{path.name}: no findings.")
    if remarks:
        talk(f"{len(remarks)} remarks on letters: the file can be used as it is.")
    return FINDINGS if findings else DONE


def new(args: argparse.Namespace) -> int:
    """Begin a protocol of the department's own from one there is; nobody has reviewed it yet."""
    folder = archive_of(args).folder
    if not re.fullmatch(r"[a-z][a-z0-9-]{0,39}", args.id):
        talk("A protocol's id is small letters, digits and hyphens, like our-macular-hole.")
        return USAGE
    path, text = find_protocol(args.source, shelves(folder))
    if loaded(text, path.name) is None:
        return FINDINGS
    print(new_protocol(shelves(folder)[0], args.id, text))
    return DONE
