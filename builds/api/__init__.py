"""The JSON API: the same services as the pages, the build document's own words."""
