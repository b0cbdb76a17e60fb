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
network_forest     its trees as arrays, and the two sweeps over them
network_solver     its voltages and currents under all conditions at once
network_collapse   whether there is an operating point at all
network_result     what a solved distribution says, and one load's way explained
battery            Peukert, reserve minutes, time to cut-off
alternator         what it gives and what is left of it
standing           key-off days
=================  =====================================================================================
"""
