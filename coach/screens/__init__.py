"""What is shown."""

import os

# Struck notes should be in their cells at once: Textual draws up to 60 times a second unless it is told otherwise,
# which alone makes a note wait for up to 17 ms. It reads this when it is imported.
os.environ.setdefault("TEXTUAL_FPS", "120")
