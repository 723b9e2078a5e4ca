"""Readers of what strangers send, fed with rubbish: only their own refusals may come out."""
