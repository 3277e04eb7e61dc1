"""The gate: may this season be handed over."""
