"""Readers and writers of files: bytes in, plain values and faults out. No database, no web."""
