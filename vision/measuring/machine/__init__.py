"""marks and tags -> what the machine itself shows: load, lever, pivot, pad, seat, handle."""
