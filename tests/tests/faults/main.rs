//! The whole program in process through days on which things fail. One seed decides
//! wind, crew, faults and chance; a seed that fails replays exactly:
//! `CRINGLE_SEED=17 cargo test -p cringle-tests --test faults one_seed -- --nocapture`.
//! The long form is `cargo run -p xtask -- faults`.

mod day;
mod disk;
mod judge;
mod luck;
mod mishap;
mod torn;
mod world;

use judge::{SHOWN_IN_S, Verdict, judge};

fn example() -> cringle_boat::BoatFile {
    cringle_boat::example().unwrap()
}

fn number(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

/// Plays these seeds and prints a line of the table.
fn days(seeds: std::ops::Range<u64>, length: u64) {
    let boat_file = example();
    let mut all = Verdict::default();
    for seed in seeds.clone() {
        let verdict = judge(&boat_file, seed, length);
        all.tried += verdict.tried;
        all.restarts += verdict.restarts;
        all.calls += verdict.calls;
        all.late_s = all.late_s.max(verdict.late_s);
        all.shown_s.extend(verdict.shown_s);
        for broken in verdict.broken {
            println!("seed {seed}: {broken}");
            all.broken.push(format!("seed {seed}: {broken}"));
        }
    }
    let slowest = all.shown_s.iter().max().copied().unwrap_or_default();
    println!(
        "{} days of {} h: {} faults, {} restarts, {} lost, shown in {slowest} s at most \
         ({} times), {} calls, {} s later at most",
        seeds.count(),
        length / 3600,
        all.tried,
        all.restarts,
        all.broken.len(),
        all.shown_s.len(),
        all.calls,
        all.late_s
    );
    assert!(slowest <= SHOWN_IN_S);
    assert!(all.broken.is_empty(), "{:#?}", all.broken);
}

#[test]
fn one_seed_is_survived_and_replays_exactly() {
    let seed = number("CRINGLE_SEED").unwrap_or(1);
    let length = number("CRINGLE_HOURS").unwrap_or(7) * 3600;
    let boat_file = example();
    let verdicts = [0; 2].map(|_| format!("{:?}", judge(&boat_file, seed, length)));
    println!("{}", verdicts[0]);
    assert_eq!(verdicts[0], verdicts[1]);
    days(seed..seed + 1, length);
}

/// `CRINGLE_DAYS` of them, from the seed `CRINGLE_SEED`.
#[test]
#[ignore = "long: cargo run -p xtask -- faults"]
fn many_seeded_days_are_survived() {
    let first = number("CRINGLE_SEED").unwrap_or(1);
    days(
        first..first + number("CRINGLE_DAYS").unwrap_or(500),
        judge::WHOLE_DAY,
    );
}
