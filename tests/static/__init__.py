"""Style sheets and scripts."""
