"""What all rooms' screens share: letters, themes, panels, lines, and the app that paints them."""

import os

# The toolkit paints 60 times a second at most: a key just after the drawing of a running clock would wait 17 ms.
os.environ.setdefault("TEXTUAL_FPS", "240")
