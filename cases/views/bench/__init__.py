"""The bench: my work now, checks, waits."""
