"""The ground that all rooms stand on: units, errors, a place, arrays, what is given, files."""
