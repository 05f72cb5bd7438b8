//! Cringle boat.
