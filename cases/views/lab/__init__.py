"""The lab's own settings: people, hours, practices, stations, routes."""
