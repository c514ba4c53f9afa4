"""Real processes, killed outright: nothing is lost, nothing happens twice."""
