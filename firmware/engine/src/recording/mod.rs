//! Recordings: everything that went into the core, so that it can be judged
//! again. The daemon writes them; whoever plays them reads them here.
//!
//! # The format
//!
//! Text, one input a line, appended as it comes and gzipped on the way. A sentence stands as it was
//! heard, bytes untouched, behind a TAG block that says when and where:
//!
//! ```text
//! \c:1764050000123,r:12345,s:p0*hh\$WIMWV,214.8,R,15.6,N,A*1E
//! ```
//!
//! `r` is this program's own time in milliseconds, `c` Unix milliseconds if
//! UTC was known, `s` the port by its number in the header. All else is on
//! lines that begin with `#` and end in `*hh`, the sum of what is between, as
//! in a sentence:
//!
//! ```text
//! #cringle recording 1*hh          what this is, and by which format
//! #run 12 part 1*hh                parts of a run are replayed in their order
//! #port 0 masthead*hh              the ports by number
//! #boat name = "..."*hh            the boat file, line by line
//! #start 0*hh                      time at which the core began
//! #state 0 {...}*hh                what it was told of the time before
//! #carried 0 {...}*hh              the same, in the head of a later part
//! #utc 40 1764050000000 system*hh  UTC not heard on the wire
//! #act 61200 acknowledge*hh        the crew's keys
//! #tick 90000*hh                   nothing was heard, and time went on
//! #lost 17*hh                      inputs that could not be written
//! #end 5400000*hh                  closed in good order
//! ```
//!
//! A recording that is cut off, as by a lost supply, is read up to the cut,
//! and the reader is told; a last line that is not whole is passed over.

pub mod acts;
pub mod lines;
pub mod read;
