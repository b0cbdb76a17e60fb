"""What the database itself guards: history, append-only tables, four eyes, stock balances, and the application's rights."""
