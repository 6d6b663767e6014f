"""Tests of the airflow calculation. None of them needs Home Assistant."""
