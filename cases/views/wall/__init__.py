"""The wall: what the baths do and which waits run, to be read from five metres."""
