"""Alarms, files and the program's own health."""
