"""Drills: what happens to the record when machines, disks, clocks and people fail."""
