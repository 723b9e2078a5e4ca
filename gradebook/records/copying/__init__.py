"""What a copy of a training record holds: worked out from loaded rows, as JSON values.

`papers` says what has to be loaded; `document` makes of it the `shown` of a portable file,
which is all that a printed copy shows; `gaps` says what is missing; `shape` reads such a
`shown` back, our own or another school's.
"""
