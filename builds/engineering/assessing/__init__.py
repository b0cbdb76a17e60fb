"""
How a design is assessed, one step a module.

1. :mod:`topology` reads the power tree: which battery feeds what, by which way out and back, isolator open and closed.
2. :mod:`solving` finds voltages and currents of all conditions at once; :mod:`faults` the currents of short circuits.
3. :mod:`circuit_results`, :mod:`run_results`, :mod:`condition_results` and :mod:`totals` turn them into figures.
4. The ``findings_*`` modules say what a good electrician would say of those figures.

:func:`builds.engineering.assess.assess` calls them in this order.
"""
