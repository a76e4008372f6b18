"""Built-in table profiles and the tables behind the chart."""
