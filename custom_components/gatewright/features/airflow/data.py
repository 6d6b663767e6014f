"""The plain data that airflow actions return and their pages show."""

from typing import Any

type Data = dict[str, Any]
"""Codes, names and figures in SI, by their keys."""
