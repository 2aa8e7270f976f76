"""The views, a module each: what a form says → answers and book → a template's values."""
