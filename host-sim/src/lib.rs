//! A boat on the desk: weather, sea, boat, crew and instruments, made up.
//!
//! Nobody can wait for a gale to find out whether the monitor works. A
//! [`scenario`] tells a story, a [`passage`] sails it and hands over the bytes
//! that the instruments put on the wire, [`sink`]s carry them to whoever
//! listens, and the [`closed_loop`] counts what advice is worth to a crew.
//!
//! ```
//! use cringle_sim::{crew::Order, passage::Passage, scenario::Scenario};
//!
//! let mut passage = Passage::new(Scenario::builtin("rising-breeze")?, 1);
//! for sentence in passage.step(1.0) {
//!     let _line_and_time = (sentence.line, sentence.due_s, &sentence.bytes);
//! }
//! passage.order(Order::Prepare);
//! assert!(passage.truth().tws_kn > 5.0);
//! # Ok::<(), anyhow::Error>(())
//! ```
//!
//! Everything repeats exactly: chance comes from a seeded generator, one
//! stream for each purpose, and functions that round differently from machine
//! to machine come from `libm`. The wind arithmetic is written apart from the
//! one under test.

pub mod bench;
pub mod boat;
pub mod boat_file;
pub mod calendar;
pub mod closed_loop;
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
