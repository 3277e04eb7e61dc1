"""Many seasons at once: written once as relations, for an engine in this process or a cluster."""
