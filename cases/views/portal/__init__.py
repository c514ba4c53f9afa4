"""The dentist's side."""
