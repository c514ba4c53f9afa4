"""The lab: one app in layers; imports point down only."""
