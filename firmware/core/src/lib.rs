//! Cringle core.

pub mod outlook;
