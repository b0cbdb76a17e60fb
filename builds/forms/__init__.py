"""Forms: what a person types, into the values that a service or a selector takes, in words at the field."""
