"""The plan: who does what when, and what will be late and why."""
