"""Tests of what is looked after: bin, filter, collector, coverage, exposure, record."""
