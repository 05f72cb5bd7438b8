//! A boat on the desk: weather, sea, boat, crew and instruments, made up.

pub mod boat;
pub mod calendar;
pub mod crew;
pub mod dice;
pub mod faults;
pub mod instruments;
pub mod maths;
pub mod passage;
pub mod sail;
pub mod scenario;
pub mod series;
pub mod sink;
pub mod weather;
