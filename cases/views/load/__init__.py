"""Loads of the baths and their records."""
