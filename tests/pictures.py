"""Pictures of the screens for the guide, drawn from the invented case: `make pictures`."""

from __future__ import annotations

import asyncio
import re
import tempfile
from datetime import datetime
from pathlib import Path

from desks import Hand, press
from terminal import ROOT
from tracker.core.forecast import Forecast
from tracker.core.loading import load_protocol
from tracker.core.usual import Usual
from tracker.journal.archive import Archive
from tracker.review.debriefing import Debriefing
from tracker.review.screen.desk import ReviewDesk
from tracker.screen.app import TheatreApp
from tracker.screen.room import Room
from tracker.theatre.demo import Demo, begin

PICTURES = ROOT / "shared" / "pictures"
SIZES = ((80, 24), (120, 40), (200, 60))
MOMENT = datetime.fromisoformat("2026-03-10T11:03:20+00:00")
REVIEWED = datetime.fromisoformat("2026-03-12T16:30:00+00:00")
USUAL = {
    "vitrectomy": Usual(18, 40, 24), "peel": Usual(30, 75, 24), "retinectomy": Usual(15, 60, 21),
    "laser": Usual(10, 30, 24), "exchange": Usual(12, 35, 24), "close": Usual(5, 20, 24),
}  # fmt: skip
LEFT = Forecast(48, 52, 74, 109)
"""What 48 past cases, as invented as the case, would leave of it."""
SAID = "u c d r f enter f enter d d d d r f enter f enter"
"""The consultant gives two deviations their reasons, and stands on the second."""


def demo(folder: Path) -> Demo:
    """The invented case in the middle of the second cut."""
    text = (ROOT / "protocols" / "complex-pvr.toml").read_text("utf-8")
    protocol = load_protocol(text, "complex-pvr.toml").protocol
    assert protocol is not None
    played = begin(protocol, text, Archive(folder))
    played.play_to(MOMENT)
    return played


async def picture(theme: str, size: tuple[int, int], command: str = "") -> str:
    """One screen of the case under way, as an SVG without any network address."""
    with tempfile.TemporaryDirectory() as folder:
        played = demo(Path(folder))
        played.desk.theme = theme
        played.desk.forecaster = lambda _case, _t: LEFT
        if command:
            press(played.desk, f"<{command}>")
        drawn = await drawing(played.desk, size)
        played.close()
    return drawn


async def review(size: tuple[int, int], keys: str) -> str:
    """The review of the whole case, with usual ranges as invented as the case."""
    with tempfile.TemporaryDirectory() as folder:
        played = demo(Path(folder))
        played.play()
        played.close()
        desk = ReviewDesk(Debriefing(Archive(Path(folder)), played.desk.case.code, Hand(REVIEWED)), USUAL)
        for key in keys.split():
            desk.press(key)
        drawn = await drawing(desk, size)
        desk.close()
    return drawn


async def drawing(room: Room, size: tuple[int, int]) -> str:
    """A screen as an SVG without any network address."""
    app = TheatreApp(room, period_s=3600)
    async with app.run_test(size=size) as pilot:
        await pilot.pause()
        drawn = app.export_screenshot(title="clockhour")
    return re.sub(r"@font-face \{.*?\}\s*", "", drawn, flags=re.DOTALL)


def main() -> None:
    """Write every picture."""
    PICTURES.mkdir(parents=True, exist_ok=True)
    for theme in ("lamp", "daylight", "stark", "plain"):
        sizes = SIZES if theme == "lamp" else SIZES[1:2]
        for size in sizes:
            name = f"board-{theme}-{size[0]}x{size[1]}.svg"
            (PICTURES / name).write_text(asyncio.run(picture(theme, size)), "utf-8")
    for name, command in (("open", "open"), ("keys", "key_sheet"), ("decision", "decision")):
        (PICTURES / f"{name}-lamp-120x40.svg").write_text(
            asyncio.run(picture("lamp", (120, 40), command)), "utf-8"
        )
    (PICTURES / "review-lamp-120x40.svg").write_text(asyncio.run(review((120, 40), SAID)), "utf-8")


if __name__ == "__main__":
    main()
