"""Numbers from records: plain values in, numbers out; neither web nor database."""
