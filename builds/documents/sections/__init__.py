"""The sections of a packet: each module turns the frozen input into the rows its template prints, figures as text."""
