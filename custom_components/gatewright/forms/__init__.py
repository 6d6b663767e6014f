"""Forms as tables: what each field offers, shows, stores and rejects."""
