//! Cringle daemon.
