"""Forms as tables: what each field offers, shows, stores and can get wrong."""
