"""
Conductors, protection, the solved distribution, and energy.

=================  =====================================================================================
conductors         sizes in their declared basis, areas, resistance at temperature
ampacity           what a conductor may carry where it lies
protection         device families, rerating, the smallest device, margin, interrupting capacity
fault_current      prospective current at a device's terminals and at the far end
loads              a load's mean, RMS and peak current at a voltage
voltage_drop       drop along runs; the published K form
sizing             load, then device, then conductor: both chosen, every candidate explained
network            the distribution with its return path, as drawn
network_parts      what it is drawn with: sources, branches, loads, converters
network_forest     its trees as arrays, and the two sweeps over them
network_rings      what closes a ring, and what flows around it
network_grid       where loads and sources hang on the trees
network_laws       what is taken at a pair of nodes, by the voltage there
network_sources    which sources hold their voltage and which are at a limit
network_shared     what points lose by each other's currents, as one matrix
network_conditions all conditions on their way to being solved
network_collapse   whether there is an operating point at all
network_blame      which load is too much, and how much of it there could be
network_solver     the door: what is given is checked, what is found is packed
network_result     what a solved distribution says, and one load's way explained
battery            Peukert, reserve minutes, time to cut-off
alternator         what it gives and what is left of it
standing           key-off days
flash              lamps that flash together: mean, heat, peak
energy             a package: charge and voltage over a duty profile
=================  =====================================================================================
"""
