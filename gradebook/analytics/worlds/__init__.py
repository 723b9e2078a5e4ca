"""Simulated schools with a known truth, to hold a forecast against.

A: skill approaches a plateau exponentially and fades exponentially; logistic noise.
B: three hidden states of mastery, gained and lost in jumps; the grade scatters about the state.
C: power law of practice and of forgetting; heavy-tailed noise and habitual grades.
"""
