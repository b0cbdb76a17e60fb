"""
The process that tells open screens of changes, so that they need not ask.

A design edit ends with NOTIFY on the channel `baywright_build`, its payload
`{"build": "2614", "design_version": 7}`. Each open page of that build holds one connection here and
gets the new version as a server-sent event; the page then fetches what it shows.

- `channel`   what a notification and an event look like
- `listener`  hears PostgreSQL, and comes back when the connection is lost
- `screens`   the open connections, by build
- `server`    takes a page's request, checks its token, keeps it open
"""
