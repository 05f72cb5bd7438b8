//! The wire: bytes become the core's readings, and the instrument's own wind
//! and calls become sentences (NMEA 0183 / IEC 61162-1, TAG blocks of 4.x).
//!
//! The way in: [`frame::Liner`] cuts bytes into lines, [`decode::Decoder`]
//! checks and reads one line and hands out [`decode::Out`]s. The way out:
//! [`encode`] writes lines, [`outputs::Scheduler`] says which are due.
//! [`census::Census`] watches all of it for the fitter, and
//! [`recording::LineTime`] gives foreign logs a time.
//!
//! Nothing here allocates, panics on bytes, or asks for the time.
//!
//! # Signs and sides
//!
//! | quantity | on the wire | as a reading |
//! |---|---|---|
//! | wind angle, MWV | 0 to 360 clockwise from the bow | starboard positive, port negative |
//! | wind angle, VWR VWT | 0 to 180 with L or R | L (port) negative |
//! | wind direction, MWD MDA | where it blows *from* | the same, by true north only |
//! | variation, deviation | E or W | east positive |
//! | sideways water speed, VBW | starboard positive | the same |
//! | rate of turn, ROT | bow to port negative | starboard positive |
//! | rudder, RSA | bow turns to port negative | starboard positive |
//! | heel, from XDR and PASHR | starboard down positive as shipped | the same; [`transducer::Sign`] turns it |
//! | pitch, from XDR and PASHR | bow up positive as shipped | the same; [`transducer::Sign`] turns it |
//! | latitude, longitude | N S, E W | north and east positive |
//!
//! Makers differ on the sign of roll and pitch even under one sentence, so the
//! boat file can turn either for each name, and the crew confirms it by
//! heeling the boat.
//!
//! # Validity
//!
//! Status V, mode N (and estimated, manual, simulated), and a null field where
//! the sentence's own quantity should stand become
//! [`Heard::Invalid`](cringle_core::reading::Heard::Invalid). A null in a field
//! that many instruments never fill (the headings in VHW, variation in RMC)
//! says nothing. A number no instrument could mean is counted and refused, and
//! never becomes a reading.
#![no_std]

pub mod alert;
pub mod census;
pub mod decode;
pub mod encode;
pub mod fields;
pub mod frame;
pub mod outputs;
pub mod prefer;
pub mod recording;
pub mod refusal;
pub mod sentence;
pub mod source;
pub mod tag;
pub mod tally;
pub mod transducer;
