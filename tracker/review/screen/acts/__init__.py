"""What each command of the review screen does: one line a command, one function of the desk."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Final

from tracker.review.screen import comparing
from tracker.review.screen.acts import adding, amending, filming, looking, reading, saying

if TYPE_CHECKING:
    from tracker.review.screen.desk import ReviewDesk

ACTS: Final[Mapping[str, Callable[[ReviewDesk], object]]] = {
    "up": partial(looking.lane_by, by=-1),
    "down": partial(looking.lane_by, by=1),
    "before": partial(looking.entry_by, by=-1),
    "after": partial(looking.entry_by, by=1),
    "closer": partial(looking.zoom, factor=0.5),
    "wider": partial(looking.zoom, factor=2.0),
    "whole": looking.whole,
    "pan_back": partial(looking.pan, share=-0.5),
    "pan_on": partial(looking.pan, share=0.5),
    "deviation": partial(looking.next_of, kind="deviation", by=1),
    "deviation_back": partial(looking.next_of, kind="deviation", by=-1),
    "bookmark": partial(looking.next_of, kind="bookmark", by=1),
    "longest": looking.longest,
    "entry": reading.show_entry,
    "deviations": reading.show_deviations,
    "debrief": reading.show_debrief,
    "key_sheet": reading.show_keys,
    "reason": saying.ask_reason,
    "words": saying.write_words,
    "went_well": saying.went_well,
    "to_change": saying.to_change,
    "attended": saying.attended,
    "sign": saying.sign,
    "writer": saying.writer,
    "withdraw": saying.withdraw,
    "amend": amending.ask_amend,
    "missed": adding.ask_missed,
    "video": filming.ask_video,
    "compare": comparing.ask_compare,
    "dimmer": partial(looking.light, command="dimmer"),
    "brighter": partial(looking.light, command="brighter"),
    "theme": partial(looking.light, command="theme"),
    "leave": looking.leave,
}
