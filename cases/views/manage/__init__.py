"""The manager's day: flow, countersigns, rework, closing time."""
