"""Predictors to compare a forecast with, from a bare rate to gradient boosting.

Each takes a grade table (columns student, task, instructor, lesson, flown_on, grade), whether
each row met the standard, and which rows may be learnt from, both boolean of shape (rows,). It
answers with the probability of meeting the standard for every row, (rows,), from the student's
earlier lessons only; what holds for everyone is fitted to the train rows.
"""
