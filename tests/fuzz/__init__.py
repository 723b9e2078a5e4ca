"""Readers of what strangers send, fed with rubbish: nothing but their own refusals comes out."""
