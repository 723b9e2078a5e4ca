"""Forms: what is typed, read into commands. One module a noun."""
