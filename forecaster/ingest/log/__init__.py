"""Thermometer logs → a checked table of readings."""
