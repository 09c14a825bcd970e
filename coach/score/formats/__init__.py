"""How each format is read: one module a format, all filling the same page."""
