"""
The engineering core: numbers in, numbers and findings out. No framework, no input or output but its own tables.

===============  =====================================================================================
design           a whole build as frozen values
assess           the one entry: design in, assessment out (its steps are in ``assessing``)
electrical       conductors, protection, the solved distribution, batteries and alternators
functions        inputs, rules, outputs and flash patterns
weight           axle loads, payload, label threshold
labour           crew hours and elapsed hours; ``learning`` over a fleet
money            lines, tax, totals
vin              check digit and model year
document         a build as JSON text, read and written
tables           data with its sources, and the one reader
units            conversions for the edges
===============  =====================================================================================
"""
