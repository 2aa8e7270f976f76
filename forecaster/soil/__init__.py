"""Heat in soil: physics only, no files, no clock, no network."""
