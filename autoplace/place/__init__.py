"""Where do the joints go? Template priors and measured evidence, combined by one rule."""
