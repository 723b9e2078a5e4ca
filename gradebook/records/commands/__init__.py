"""One act a function: load for an actor, check, write, note. The caller's block commits."""
