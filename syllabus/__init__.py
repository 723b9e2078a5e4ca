"""What is taught and what is required: plain Python over plain files, importable alone."""
