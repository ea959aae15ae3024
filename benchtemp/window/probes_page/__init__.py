"""The Probes page: what is known of every probe, guided checks, and what an uncertainty is made of."""
