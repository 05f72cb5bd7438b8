//! Cringle cringle-sim.
