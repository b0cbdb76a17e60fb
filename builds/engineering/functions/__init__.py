"""
The function schedule: which inputs drive which outputs, and how, proved before a wire is cut.

=================  =====================================================================================
vocabulary         the words inputs, channels, effects and claims are written in
conditions         conditions as a tree: names, and, or, not, is, timers
patterns           flash patterns as timed steps, their duty and rates, limits of rates by standard
schedule           inputs, channels, heads, patterns, sets, rules, claims: the whole as frozen values
names              what each name of a schedule stands for
language           text to values, every fault with its column and what was expected
printing           values to text
rewriting          one statement of a text in the place of another
form               values to the plain dictionaries a form edits, and back; the digest of a schedule
settings           where every input stands
gates              conditions as a graph of gates, computed for one setting or a million at once
compiled           a schedule as gates
head_sharing       what a shared head leaves its colours
appearances        what each channel shows, as gates
evaluate           what every channel does at a setting, and which rule decides it
running            the same in time: timers, latches, events
solving            the graph as clauses; smallest settings
reachable          whether a state with timers can come about, and the sequence that brings it
unrolled           bounded search for a sequence where the short way does not find one
proof              claims proved over every reachable state, or refuted by the smallest counterexample
checks             what a good electrician would say of a schedule
comparing          two schedules compared by what they do
ready_claims       claims a shop asks of every vehicle, with their basis and whom they defer to
goals              what a test of a schedule has to show
covering           few settings that show it all
ordering           in the order that changes fewest controls
plan               the technician's test plan
mutants            schedules with one fault, and how many of them a plan notices
coupling           which loads a setting lights, and how; conditions of a design joined to its schedule
reports            all there is to say of a text, worked out once
chart              the operator's chart by control
catalogue          ids and words of the findings
=================  =====================================================================================
"""
