"""The API's views, one module per noun."""
