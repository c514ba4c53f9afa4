"""Measurements of the pages and of finishing a stage. They print ratios and never fail a build."""
