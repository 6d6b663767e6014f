"""The airflow in the hub: ducts from the forms, what is computed live, and the report."""
