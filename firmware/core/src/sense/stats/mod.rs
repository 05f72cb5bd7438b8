//! Means, gusts and trends of uneven samples, in little memory.
//!
//! A sample stands until the next one, or until it is too old. What stood is
//! gathered into [`Seconds`]: bins of one whole second, each knowing how many
//! milliseconds of it were covered. Every longer figure is put together from
//! whole bins, so that a plain sum over the same samples gives the same.

pub mod beaufort;
pub mod bin;
pub mod circular;
pub mod held;
pub mod minute;
pub mod seconds;
pub mod smooth;
pub mod squall;
pub mod sums;
pub mod tendency;
pub mod trend;

pub use bin::{Bin, WindSample};
pub use held::Held;
pub use minute::{Day, Minute, Minutes};
pub use seconds::{Seconds, Window};
pub use smooth::Smooth;
