//! The skipper's forecast through the whole core: what it brings forward, what
//! it must never hide, what a wrong one costs, and its replay.

mod replay;
mod table;
mod watch;
