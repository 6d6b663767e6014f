"""Tests of maintenance and statistics: bin, filter, collector, exposure, runs and summaries."""
