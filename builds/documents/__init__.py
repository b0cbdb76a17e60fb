"""
Documents made of frozen input: the delivery packet.

No module here asks the database, the clock or the network. ``packet_input`` is what an issue froze, ``sections`` turn it
into rows for the templates, ``packet`` renders, ``fetcher`` is all that the renderer may read, ``fingerprint`` names what
rendered.
"""
