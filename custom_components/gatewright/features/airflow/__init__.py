"""Airflow: ducts from the forms, live figures, and the report."""
