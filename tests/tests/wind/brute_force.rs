//! Means and gusts against a plain sum over every millisecond.

use cringle_core::instruments::Instruments;
use cringle_core::picture::Picture;
use cringle_core::time::Timestamp;

use crate::aboard::{apparent, rounded, say, secs, stw};
use crate::physics::Dice;

/// One sample stands until the next, at most its source's age limit; here
/// every gap is shorter, so what stands at a millisecond is the last sample.
fn standing(samples: &[(u64, f64)], until: u64) -> Vec<Option<f64>> {
    let mut line = Vec::with_capacity(until as usize);
    let mut next = 0;
    for ms in 0..until {
        while samples.get(next).is_some_and(|(at, _)| *at <= ms) {
            next += 1;
        }
        line.push(next.checked_sub(1).map(|n| samples[n].1));
    }
    line
}

fn mean(line: &[Option<f64>]) -> f64 {
    let known: Vec<f64> = line.iter().flatten().copied().collect();
    known.iter().sum::<f64>() / known.len() as f64
}

#[test]
fn the_picture_agrees_with_a_sum_over_every_millisecond() {
    for seed in 1..6 {
        let mut dice = Dice::new(seed);
        let mut picture = Picture::new(&Instruments::default());
        // At rest and head to wind true is apparent; a slow walk passes the
        // gate whole.
        let mut samples = Vec::new();
        let (mut ms, mut speed) = (0u64, 18.0);
        while ms < 700_000 {
            ms += 100 + (dice.uniform() * 1300.0) as u64;
            speed = (speed + 0.4 * dice.normal() + 0.03 * (18.0 - speed)).clamp(8.0, 30.0);
            let told = rounded(speed, 0.1);
            say(&mut picture, ms, stw(0.0));
            say(&mut picture, ms, apparent(0.0, told));
            samples.push((ms, told));
        }
        assert_eq!(picture.wind(Timestamp::from_millis(ms)).gated, 0);
        let now = secs(ms / 1000);
        let closed = picture.seconds().closed();
        let line = standing(&samples, closed * 1000);
        let last = |seconds: u64| &line[line.len() - seconds as usize * 1000..];
        let wind = picture.wind(now);
        for (found, span) in [
            (wind.mean_1min_kn, 60),
            (wind.mean_2min_kn, 120),
            (wind.mean_10min_kn, 600),
        ] {
            near(found.unwrap(), mean(last(span)));
        }
        let gust = last(600)
            .chunks(1000)
            .collect::<Vec<_>>()
            .windows(3)
            .map(|three| mean(&three.concat()))
            .fold(0.0, f64::max);
        near(wind.gust_kn.unwrap(), gust);
        let centre = mean(last(600));
        let squares: Vec<Option<f64>> = last(600)
            .iter()
            .map(|v| v.map(|v| (v - centre).powi(2)))
            .collect();
        near(wind.deviation_kn.unwrap(), mean(&squares).sqrt());
        let minute = picture.last_minutes().nth(5).unwrap();
        near(
            f64::from(minute.mean_kn.unwrap()),
            mean(&line[300_000..360_000]),
        );
    }
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!(
        (found / expected - 1.0).abs() < 1e-6,
        "{found} for {expected}"
    );
}
