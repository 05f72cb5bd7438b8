//! Cringle core.
