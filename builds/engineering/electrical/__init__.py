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
network_solver     its voltages and currents under all conditions at once
network_collapse   the part of that which decides whether there is an operating point at all
energy             batteries, alternators, standing
=================  =====================================================================================
"""
