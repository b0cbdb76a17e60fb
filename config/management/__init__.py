"""Commands of the project itself."""
