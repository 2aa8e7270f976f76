"""Files of daily air → a checked daily table."""
