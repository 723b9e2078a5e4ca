"""Whether an installation keeps what it is given: facts in, findings out. Pure."""
