"""Every query. A row comes out only for a named actor and action."""
