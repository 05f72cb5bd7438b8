//! What the instruments say, and how far to believe it.
//!
//! Readings go in, one [`picture::Picture`] comes out: which source of each
//! quantity is used, which wind is true, how it has been, and what speaks
//! against any of it.

pub mod fault;
pub mod health;
pub mod instruments;
pub mod picture;
pub mod reading;
pub mod sources;
pub mod stats;
pub mod wind;
