"""What all rooms' screens share: letters, themes, panels, lines, and the app that paints them."""
