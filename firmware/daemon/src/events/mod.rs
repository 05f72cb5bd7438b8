//! Events as they leave the program: one JSON object a line for machines and
//! the event log, one line of words for people.

pub mod device;
mod json;
mod words;

pub use json::event_line;
pub use words::event_words;
