"""Long work and its doing: apart from the request that asked for it, or inside it."""
