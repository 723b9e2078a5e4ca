"""The needle: how likely a student meets the standard on a task next time, and how surely.

One dynamic ordinal model (`parameters`), one step of arithmetic (`kernel`) used alike for a
sign-off, a rebuild and a fit, so that all three agree to the last bit.
"""
