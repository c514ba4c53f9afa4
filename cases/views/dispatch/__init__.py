"""Packing, papers and the van."""
