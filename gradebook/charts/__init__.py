"""Findings of a student and of a school: each a title, a picture, a table and a figure."""
