"""Tests of the project's own machinery."""
