//! Cringle screen.
