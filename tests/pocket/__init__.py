"""The rules twice: what the program and the browser make of the same card."""
