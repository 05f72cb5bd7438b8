//! Birds, radio and dropouts stay out of the wind; squalls come in.

use cringle_core::fault::Fault;
use cringle_core::instruments::Instruments;
use cringle_core::picture::{Picture, WindHealth};
use cringle_core::reading::Quantity;
use cringle_core::stats::squall::Squall;
use cringle_core::time::Timestamp;

use crate::aboard::{apparent, has, rounded, say, secs, stw};
use crate::physics::Dice;

/// A boat lying still, so that true is apparent: 8 % gusts, 4 deg of swing.
struct Breeze {
    dice: Dice,
    gust: f64,
    swing: f64,
    every_ms: u64,
}

impl Breeze {
    fn new(seed: u64, every_ms: u64) -> Self {
        Breeze {
            dice: Dice::new(seed),
            gust: 0.0,
            swing: 0.0,
            every_ms,
        }
    }

    fn sample(&mut self, mean: f64) -> (f64, f64) {
        let keep = (-(self.every_ms as f64) / 8000.0).exp();
        let fresh = (1.0 - keep * keep).sqrt();
        self.gust = keep * self.gust + fresh * self.dice.normal();
        self.swing = keep * self.swing + fresh * self.dice.normal();
        let angle = 40.0 + 4.0 * self.swing + self.dice.normal();
        let speed = mean * (1.0 + 0.08 * self.gust) + 0.2 * self.dice.normal();
        (rounded(angle, 1.0), rounded(speed, 0.1))
    }

    /// Says the breeze for a span, changed by `change(seconds, sample)`.
    fn blow(
        &mut self,
        picture: &mut Picture,
        seconds: std::ops::Range<u64>,
        change: impl Fn(f64, (f64, f64)) -> (f64, f64),
    ) {
        let mut ms = seconds.start * 1000;
        while ms < seconds.end * 1000 {
            let plain = self.sample(15.0);
            let (angle, speed) = change(ms as f64 / 1000.0, plain);
            say(picture, ms, stw(0.0));
            say(picture, ms, apparent(angle, speed));
            ms += self.every_ms;
        }
    }
}

const RATES_MS: [u64; 4] = [100, 250, 1000, 6000];

#[test]
fn a_single_sample_spike_never_moves_the_gust() {
    for every_ms in RATES_MS {
        for (angle, speed) in [
            (40.0, 32.0),
            (40.0, 60.0),
            (40.0, 102.3),
            (40.0, 199.9),
            (-140.0, 15.0),
            (0.0, 0.0),
            (120.0, 25.0),
        ] {
            let gust = |spike: Option<(f64, f64)>| {
                let mut picture = Picture::new(&Instruments::default());
                let mut breeze = Breeze::new(3, every_ms);
                breeze.blow(&mut picture, 0..606, |t, plain| match spike {
                    Some(spike) if (t - 300.0).abs() < every_ms as f64 / 2100.0 => spike,
                    _ => plain,
                });
                let gated = picture.wind(secs(606)).gated;
                (picture.wind(secs(606)).gust_kn.unwrap(), gated)
            };
            let (plain, none) = gust(None);
            let (spiked, some) = gust(Some((angle, speed)));
            assert_eq!(none, 0, "{every_ms}");
            assert_eq!(some, 1, "{every_ms} {angle} {speed}");
            // The dropped sample's place is held by the one before it.
            assert!(
                (spiked - plain).abs() < 0.5,
                "{every_ms} {speed}: {spiked} {plain}"
            );
        }
    }
}

#[test]
fn a_true_onset_is_hardly_delayed() {
    for every_ms in RATES_MS {
        let mut told = Vec::new();
        for seed in 1..9 {
            let mut picture = Picture::new(&Instruments::default());
            let mut breeze = Breeze::new(seed, every_ms);
            let onset = |t: f64, (angle, speed): (f64, f64)| {
                let rise = ((t - 300.0) / 10.0).clamp(0.0, 1.0);
                (angle, speed * (1.0 + rise * 20.0 / 15.0))
            };
            let mut passed = None;
            for second in 0..340 {
                breeze.blow(&mut picture, second..second + 1, onset);
                let wind = picture.wind(secs(second + 1));
                if passed.is_none() && wind.tws_kn.is_some_and(|tws| tws > 28.0) {
                    passed = Some(second + 1);
                }
            }
            // Ungated it passes 28 kn smoothed by 4 s about 310 s.
            told.push(passed.expect("never told") as f64 - 310.0);
            let wind = picture.wind(secs(340));
            assert!(wind.gust_kn.unwrap() > 32.0, "{every_ms}");
            assert_eq!(wind.squall, Squall::Onset, "{every_ms}");
        }
        let worst = told.iter().copied().fold(f64::MIN, f64::max);
        println!("onset 15 to 35 kn in 10 s, every {every_ms} ms: told {worst} s after it is full");
        assert!(worst < 15.0, "{every_ms}: {told:?}");
    }
}

#[test]
fn a_squall_counts_once_it_has_lasted_a_minute() {
    let mut picture = Picture::new(&Instruments::default());
    let mut breeze = Breeze::new(5, 1000);
    let squall = |t: f64, (angle, speed): (f64, f64)| {
        let rise = ((t - 300.0) / 10.0).clamp(0.0, 1.0);
        (angle, speed + 18.0 * rise)
    };
    breeze.blow(&mut picture, 0..345, squall);
    assert_ne!(picture.wind(secs(345)).squall, Squall::Squall);
    breeze.blow(&mut picture, 345..375, squall);
    assert_eq!(picture.wind(secs(375)).squall, Squall::Squall);
    // A rise of 12 kn is none, however long.
    let mut picture = Picture::new(&Instruments::default());
    let mut breeze = Breeze::new(5, 1000);
    for second in 0..480 {
        breeze.blow(&mut picture, second..second + 1, |t, (angle, speed)| {
            let rise = ((t - 300.0) / 10.0).clamp(0.0, 1.0);
            (angle, speed + 11.0 * rise)
        });
        assert_ne!(picture.wind(secs(second + 1)).squall, Squall::Squall);
    }
}

#[test]
fn radio_for_ten_seconds_is_gated_and_shown() {
    let mut picture = Picture::new(&Instruments::default());
    let mut breeze = Breeze::new(9, 1000);
    let radio = |t: f64, plain: (f64, f64)| {
        let n = t as u64;
        if (300..310).contains(&n) {
            (
                f64::from((n * 77 % 360) as u32),
                [0.0, 63.0, 12.0, 99.9][n as usize % 4],
            )
        } else {
            plain
        }
    };
    breeze.blow(&mut picture, 0..340, radio);
    let wind = picture.wind(secs(340));
    assert!(wind.gust_kn.unwrap() < 22.0, "{:?}", wind.gust_kn);
    assert!(wind.gated >= 7, "{}", wind.gated);
    assert!(has(&picture, Fault::Spikes(Quantity::ApparentWind)));
    breeze.blow(&mut picture, 340..400, radio);
    assert!(!has(&picture, Fault::Spikes(Quantity::ApparentWind)));
}

#[test]
fn a_line_that_drops_to_zero_is_lost_wind_not_a_lull() {
    for every_ms in [100, 1000] {
        let mut picture = Picture::new(&Instruments::default());
        let mut breeze = Breeze::new(2, every_ms);
        let broken = |t: f64, plain| if t >= 300.0 { (0.0, 0.0) } else { plain };
        breeze.blow(&mut picture, 0..312, broken);
        let what = Quantity::ApparentWind;
        assert_eq!(picture.needs(secs(312)), WindHealth::Lost { what });
        assert_eq!(picture.wind(secs(312)).tws_kn, None);
        assert_eq!(picture.wind(secs(312)).mean_1min_kn, None);
    }
}

#[test]
fn a_tack_and_a_lull_pass_the_gate() {
    for every_ms in RATES_MS {
        let mut picture = Picture::new(&Instruments::default());
        let mut breeze = Breeze::new(4, every_ms);
        // Through the wind in 8 s, then half the wind in 5 s.
        let sailing = |t: f64, (angle, speed): (f64, f64)| {
            let tack = ((t - 200.0) / 8.0).clamp(0.0, 1.0);
            let lull = ((t - 400.0) / 5.0).clamp(0.0, 1.0);
            (angle - 80.0 * tack, speed * (1.0 - 0.5 * lull))
        };
        breeze.blow(&mut picture, 0..240, sailing);
        let wind = picture.wind(Timestamp::from_secs(240));
        assert!((wind.awa_deg.unwrap() + 40.0).abs() < 15.0, "{every_ms}");
        breeze.blow(&mut picture, 240..606, sailing);
        let wind = picture.wind(Timestamp::from_secs(606));
        assert!((wind.mean_1min_kn.unwrap() - 7.5).abs() < 1.5, "{every_ms}");
        assert!(wind.gated <= 3, "{every_ms}: {}", wind.gated);
    }
}
