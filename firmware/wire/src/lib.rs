//! Cringle wire.
