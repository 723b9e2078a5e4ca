"""Thin views: form in, one command or query, template out."""
