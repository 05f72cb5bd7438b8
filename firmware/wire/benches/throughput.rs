//! Bytes to readings, beside the `nmea` crate's bare parse of the same lines
//! in the same run.
//!
//! Ours is the whole stage: cutting lines from the stream, TAG blocks,
//! checksum, decoding, ranges, naming the source. Theirs is `parse_bytes` on
//! lines cut beforehand: checksum and decoding. `job` are the job's own
//! sentences that both read; `others` go through that crate on our side too;
//! `ours_only` are the job's own that it does not read.
//!
//! Run with `cargo bench -p cringle-wire`.
//!
//! Measured on two cores beside other work, rustc 1.95.0, nmea 0.8.0, medians
//! in millions of sentences a second: `job` 10.4 for the whole stage beside 8.5
//! for the bare parse; `others` 3.05 beside 3.43, which is 12 % more time;
//! `ours_only` 7.9. A line at 38400 Bd carries about 150 a second.

use cringle_core::time::Timestamp;
use cringle_wire::decode::{Decoder, PortOptions};
use cringle_wire::frame::Liner;
use divan::counter::ItemsCount;
use divan::{Bencher, black_box};

const JOB: [&str; 4] = [
    "$WIMWV,214.8,R,15.6,N,A*1E",
    "$WIMWV,033.0,T,12.4,N,A*12",
    "$VWVHW,045.0,T,043.0,M,6.50,N,12.04,K*66",
    "$HEHDT,085.7,T*25",
];

const OTHERS: [&str; 8] = [
    "$GPRMC,123519.00,A,4807.038,N,01131.000,E,6.4,084.4,230326,3.1,W,A,S*59",
    "$GPGGA,123519.00,4807.0380,N,01131.0000,E,1,08,0.9,12.4,M,46.9,M,,*5E",
    "$GPGLL,4807.038,N,01131.000,E,123519.00,A,A*66",
    "$GPVTG,084.4,T,087.5,M,6.4,N,11.9,K,A*1A",
    "$GPZDA,201530.00,04,07,2026,00,00*66",
    "$WIMDA,29.78,I,1.0085,B,17.3,C,,,64.0,,10.5,C,238.0,T,240.5,M,21.4,N,11.0,M*6F",
    "$YXMTW,17.9,C*1D",
    "$SDDPT,2.4,0.5*54",
];

const OURS_ONLY: [&str; 6] = [
    "$WIMWD,302.4,T,289.6,M,10.5,N,5.4,M*6F",
    "$IIVWR,045.0,L,17.8,N,9.2,M,33.0,K*53",
    "$HCHDG,098.3,0.0,E,12.6,W*67",
    "$TIROT,-12.5,A*20",
    "$YXXDR,A,-3.2,D,PTCH,A,18.4,D,ROLL*4C",
    "$PASHR,123519.000,084.40,T,+14.20,-01.35,+00.12,0.020,0.020,0.080,1,1*03",
];

/// Each set of lines is repeated to this many.
const LINES: usize = 960;

fn main() {
    for line in JOB.iter().chain(&OTHERS) {
        assert!(nmea::parse_str(line).is_ok(), "{line}");
    }
    divan::main();
}

fn repeated(lines: &[&'static str]) -> Vec<&'static str> {
    lines.iter().copied().cycle().take(LINES).collect()
}

fn ours(bencher: Bencher<'_, '_>, lines: &[&'static str]) {
    let stream: String = repeated(lines)
        .iter()
        .map(|line| format!("{line}\r\n"))
        .collect();
    let mut liner = Liner::new();
    let mut decoder = Decoder::new(0, PortOptions::default());
    bencher.counter(ItemsCount::new(LINES)).bench_local(|| {
        liner.feed(black_box(stream.as_bytes()), &mut |line| {
            decoder.decode(line, Timestamp::ZERO, &mut |out| {
                black_box(&out);
            });
        });
    });
    assert_eq!(decoder.tally().known, decoder.tally().lines);
}

fn theirs(bencher: Bencher<'_, '_>, lines: &[&'static str]) {
    let lines = repeated(lines);
    bencher.counter(ItemsCount::new(LINES)).bench_local(|| {
        for line in &lines {
            black_box(&nmea::parse_bytes(black_box(line.as_bytes())));
        }
    });
}

mod job {
    use super::*;

    #[divan::bench]
    fn whole_stage(bencher: Bencher<'_, '_>) {
        ours(bencher, &JOB);
    }

    #[divan::bench]
    fn bare_parse(bencher: Bencher<'_, '_>) {
        theirs(bencher, &JOB);
    }
}

mod others {
    use super::*;

    #[divan::bench]
    fn whole_stage(bencher: Bencher<'_, '_>) {
        ours(bencher, &OTHERS);
    }

    #[divan::bench]
    fn bare_parse(bencher: Bencher<'_, '_>) {
        theirs(bencher, &OTHERS);
    }
}

mod ours_only {
    use super::*;

    #[divan::bench]
    fn whole_stage(bencher: Bencher<'_, '_>) {
        ours(bencher, &OURS_ONLY);
    }
}
