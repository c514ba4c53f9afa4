"""The design as entered at the surveyor: one form of several parts."""
