"""The demo school: an invented school whose students' lessons are simulated.

Everything is written through the same commands a real school uses, at moments in the past.
"""
