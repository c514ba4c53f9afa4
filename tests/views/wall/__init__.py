"""The wall page, as somebody sees it."""
