"""
Keeps a working shop running from one terminal: servers, web process, worker, clock, live screens.

- `command_line`  the options of `demo` and `serve`
- `preflight`     what is looked at before anything starts: ports, disk space
- `servers`       database and broker in the data folder, under its lock
- `children`      the processes that use them
- `watch`         starts all, restarts what falls, stops all
- `demo`          the demo shop and its walk
- `standalone`    the servers for the length of one Django command
"""
