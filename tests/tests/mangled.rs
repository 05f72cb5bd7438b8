//! Whatever others make of a boat file, a board file, a recording, a state file or a
//! sentence with a TAG block: no panic, no endless loop, and nothing out of bounds.
//!
//! A few hundred tries each by default; `CRINGLE_FUZZ_SECONDS=1800` plays each target
//! for so much processor time. Findings are in `tests/fuzz/NOTES.md`.

use std::io::Write;
use std::time::{Duration, Instant};

use cringle::engine::Engine;
use cringle::ports::PortId;
use cringle::recorder::read::Recording;
use cringle::state::{MOST_HANDS, State, Unsure, sealed};
use cringle::wiring;
use cringle_boards::board::BoardFile;
use cringle_core::time::Timestamp;

/// Tries of each target in a short run: a few seconds in all.
const TRIES: u64 = 300;
/// A single input must not take longer.
const LONGEST: Duration = Duration::from_secs(2);

/// Seeded noise (xorshift), so that a failure can be met again.
struct Noise(u64);

impl Noise {
    fn below(&mut self, end: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % end.max(1) as u64) as usize
    }

    /// A few changes: bits, bytes, pieces cut out, doubled, or taken from elsewhere.
    fn mangle(&mut self, whole: &[u8], other: &[u8]) -> Vec<u8> {
        let mut bytes = whole.to_vec();
        for _ in 0..=self.below(6) {
            let at = self.below(bytes.len());
            let span = self.below(40).min(bytes.len() - at);
            match self.below(7) {
                0 if at < bytes.len() => bytes[at] ^= 1 << self.below(8),
                1 => bytes.insert(at, self.below(256) as u8),
                2 => drop(bytes.drain(at..at + span)),
                3 => {
                    let piece = bytes[at..at + span].to_vec();
                    bytes.splice(at..at, piece);
                }
                4 => {
                    let from = self.below(other.len());
                    let to = (from + span).min(other.len());
                    bytes.splice(at..at + span, other[from..to].iter().copied());
                }
                5 => bytes.truncate(at),
                _ => {
                    let odd = [
                        &b"-1"[..],
                        b"1e308",
                        b"nan",
                        b"99999999999",
                        b"\0",
                        b"\"",
                        b"]]",
                    ];
                    bytes.splice(at..at, odd[self.below(odd.len())].iter().copied());
                }
            }
        }
        bytes
    }
}

/// Plays a target on what is made of these.
fn play(name: &str, seeds: &[Vec<u8>], mut target: impl FnMut(&[u8])) {
    let seconds = std::env::var("CRINGLE_FUZZ_SECONDS").ok();
    let seconds = seconds
        .and_then(|words| words.parse().ok())
        .map(Duration::from_secs);
    let began = Instant::now();
    let mut tried = 0;
    let mut noise = Noise(0x1234_5678_9abc_def1);
    loop {
        let is_over = match seconds {
            Some(seconds) => began.elapsed() >= seconds,
            None => tried >= TRIES,
        };
        if is_over {
            break;
        }
        let whole = &seeds[noise.below(seeds.len())];
        let other = &seeds[noise.below(seeds.len())];
        let bytes = noise.mangle(whole, other);
        let one = Instant::now();
        target(&bytes);
        assert!(
            one.elapsed() < LONGEST,
            "{name}, try {tried}: {:?}",
            one.elapsed()
        );
        tried += 1;
    }
    println!("{name}: {tried} inputs in {} s", began.elapsed().as_secs());
}

#[test]
fn a_mangled_boat_file_is_told_or_read_and_never_a_panic() {
    let seeds: Vec<_> = cringle_boat::TEMPLATES
        .iter()
        .map(|template| template.text.as_bytes().to_vec())
        .chain([cringle_boat::example_text().as_bytes().to_vec()])
        .collect();
    play("boat file", &seeds, |bytes| {
        if let Ok(file) = cringle_boat::parse_bytes("mangled", bytes) {
            cringle_boat::judge(&file);
        }
    });
}

#[test]
fn a_mangled_board_file_is_told_or_read_and_never_a_panic() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../boards");
    let boards = ["cockpit-oled", "cockpit-colour", "chart-table-paper"];
    let seeds: Vec<_> = boards
        .iter()
        .map(|board| std::fs::read(format!("{folder}/{board}/board.toml")).unwrap())
        .collect();
    play("board file", &seeds, |bytes| {
        drop(BoardFile::parse("mangled", &String::from_utf8_lossy(bytes)));
    });
}

#[test]
fn a_mangled_state_is_refused_asked_for_or_within_its_bounds() {
    let boat = cringle_boat::example().unwrap().boat;
    let cold = Engine::new(&boat, Vec::new(), None, Timestamp::ZERO).saved();
    let state = State {
        saved: cold.clone(),
        saved_unix_ms: Some(1_764_050_000_000),
    };
    let line = state.write(&boat);
    let seeds = [sealed(&line).into_bytes(), line.clone().into_bytes()];
    play("state", &seeds, |bytes| {
        let words = String::from_utf8_lossy(bytes);
        // As it came, and as one who can reckon a checksum would send it.
        let first = words.lines().next().unwrap_or_default();
        for contents in [words.to_string(), sealed(first)] {
            let Ok((read, unsure)) = State::read_sealed(&contents, &boat, &cold) else {
                continue;
            };
            let hands = read.saved.hands;
            assert!(hands.on_deck <= MOST_HANDS && hands.below <= MOST_HANDS);
            assert!(boat.ladder.plan(read.saved.plan).is_some());
            let is_whole = contents == sealed(contents.lines().next().unwrap_or_default());
            assert!(is_whole || unsure == Unsure::ALL);
            // It can be taken up, aged and written again.
            let aged = read.aged(Some(1_764_060_000_000));
            let engine = Engine::new(&boat, Vec::new(), Some(&aged.saved), Timestamp::ZERO);
            drop(engine.view());
            drop(aged.write(&boat));
        }
    });
}

#[test]
fn a_mangled_recording_is_read_as_far_as_it_goes() {
    let directory = tempfile::tempdir().unwrap();
    let mut text = String::from("$CRINGLE,format,1\r\n");
    for second in 0..200 {
        text += &format!(
            "\\c:{},r:{}*00\\$WIMWV,41.0,R,15.6,N,A*18\r\n",
            1_764_050_000 + second,
            second
        );
    }
    let mut packed = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
    packed.write_all(text.as_bytes()).unwrap();
    let frozen = cringle_tests::net::inputs(&cringle_tests::net::folder(), "lull", 1);
    let own = cringle_tests::packed::unpack(&std::fs::read(frozen).unwrap()).unwrap();
    let own = own[..own.len().min(60_000)].to_vec();
    let seeds = [text.into_bytes(), packed.finish().unwrap(), own];
    let paths = ["mangled.log", "mangled.log.gz"].map(|name| directory.path().join(name));
    play("recording", &seeds, |bytes| {
        for path in &paths {
            std::fs::write(path, bytes).unwrap();
            let Ok(mut recording) = Recording::open(std::slice::from_ref(path)) else {
                continue;
            };
            if recording.head().is_ok() {
                while let Ok(Some(_)) = recording.input() {}
            }
        }
    });
}

#[test]
fn mangled_tag_blocks_and_sentences_come_to_nothing_worse_than_nothing() {
    let boat_file = cringle_boat::example().unwrap();
    let decoders = wiring::decoders(&boat_file, &["mast".to_owned()]);
    let mut engine = Engine::new(&boat_file.boat, decoders, None, Timestamp::ZERO);
    let seeds = [
        &b"\\s:mast,c:1764050000,n:17*1C\\$WIMWV,041.0,R,15.6,N,A*1B"[..],
        b"\\g:1-2-1234,s:r3669961,c:1120959341*7C\\$YXXDR,A,12.4,D,HEEL*59",
        b"\\1G2:34,c:1764050000*22\\$GPRMC,120000.00,A,4807.038,N,00531.000,W,6.4,084.4,120626,,,A*7F",
        b"$BNACN,,,10101,1,A,C*00",
        b"$VWVHW,080.0,T,084.0,M,6.2,N,11.5,K*5C",
    ]
    .map(<[u8]>::to_vec);
    let mut at = 0;
    play("TAG blocks", &seeds, |bytes| {
        at += 100;
        engine.line(PortId(0), bytes, Timestamp::from_millis(at));
        drop(engine.events());
    });
    let kn = engine.view().wind.tws_kn;
    assert!(kn.is_none_or(|kn| kn.is_finite() && (0.0..200.0).contains(&kn)));
}
