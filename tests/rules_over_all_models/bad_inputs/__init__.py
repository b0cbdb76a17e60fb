"""What may arrive that should not: one table, by the room of the shop where it arrives."""
