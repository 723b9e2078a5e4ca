"""Keeping a school's data safe: backups, restoring them, and proving that they can be."""
