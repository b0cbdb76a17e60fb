"""
Charge and voltage over a duty profile: what the batteries, the sources and the shedding do, hour by hour.

=============  =====================================================================================
banks          a battery as it discharges, takes charge and recovers; what cold does to it
laws           what loads take at a battery's post, as a function of the voltage there
posts          the voltage and the currents at one moment: who gives, who takes, who is at a limit
steps          one step in time with its error, so that steps are as long as they may be
stages         what is simulated: stretches of time, sources, shedding, cranking
timers         delays of the shedding: what is waiting to open, what to close
simulation     from one event to the next, switching instants located by root finding
run_records    what is kept on the way: points, events, accounts
crank          whether an engine would start again, and what drops out while it is cranked
=============  =====================================================================================

Nothing here knows a design: :mod:`builds.engineering.assessing.duty` draws one up for it.
"""
