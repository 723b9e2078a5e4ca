"""The tamper-evident record: canonical text, signatures, the tree, bundles. Pure."""
