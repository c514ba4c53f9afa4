"""Components and frames."""
