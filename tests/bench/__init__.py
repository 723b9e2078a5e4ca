"""How fast the needle is: `python -m tests.bench`. Measured here, judged by nobody's clock."""
