"""Where entries go when the disk does not take them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tracker.journal.trouble import Trouble

if TYPE_CHECKING:
    from tracker.theatre.desk import Desk


def elsewhere(desk: Desk) -> None:
    """Go on in the second folder, with all entries so far; only while some are not on disk."""
    if not desk.session.waiting:
        desk.hint = "every entry is on disk: the case stays where it is"
        return
    try:
        desk.session.move_to(desk.second_folder)
    except Trouble as refusal:
        desk.hint = f"{refusal}"
        return
    desk.hint = f"the case goes on in {desk.second_folder}; all its entries are there"
