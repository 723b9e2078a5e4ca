"""The tests, and the command that runs them (run.py)."""
