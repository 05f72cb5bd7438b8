//! How instruments lie, row by row of `sense::health::table`: each lie is
//! found, and its honest twin is not.

use cringle_core::event::Call;
use cringle_core::fault::Fault;
use cringle_core::instruments::Instruments;
use cringle_core::picture::{Picture, WindHealth};
use cringle_core::reading::{Heard, Measure, Quantity, Rank, Reading, SourceId};
use cringle_core::sense::health::table::{ROWS, row};
use cringle_core::time::Timestamp;
use cringle_core::units::{Degrees, Metres};
use cringle_core::watch::Watch;

use crate::aboard::{
    apparent, compass, has, heading, heel, over_ground, pitch, rounded, say, secs, stw,
};
use crate::physics::Dice;

/// What the instruments of one second say; a sensor that is none is silent.
#[derive(Clone, Copy)]
struct Moment {
    t: f64,
    wind: Option<(f64, f64)>,
    heel: Option<f64>,
    pitch: f64,
    heading: f64,
    stw: Option<f64>,
    ground: (f64, f64),
}

/// A boat on the wind at 1 Hz, in a seaway.
struct Boat {
    picture: Picture,
    dice: Dice,
    second: u64,
}

impl Boat {
    fn new() -> Boat {
        Boat::with(Instruments::default())
    }

    fn with(instruments: Instruments) -> Boat {
        Boat {
            picture: Picture::new(&instruments),
            dice: Dice::new(7),
            second: 0,
        }
    }

    fn sail(&mut self, seconds: u64, change: impl Fn(&mut Moment)) {
        for _ in 0..seconds {
            let t = self.second as f64;
            let aws = 20.0 + 1.5 * (t / 9.0).sin() + 0.5 * self.dice.normal();
            let mut now = Moment {
                t,
                wind: Some((35.0 + 3.0 * self.dice.normal(), aws)),
                heel: Some(rounded(-18.0 + 4.0 * (t / 1.1).sin(), 0.1)),
                pitch: rounded(1.5 * (t / 0.9).sin(), 0.1),
                heading: 40.0 + 8.0 * (t / 31.0).sin(),
                stw: Some(rounded(6.0 + 0.2 * (t / 17.0).sin(), 0.1)),
                ground: (6.2, 45.0),
            };
            change(&mut now);
            self.say(&now);
        }
    }

    fn say(&mut self, now: &Moment) {
        let ms = self.second * 1000;
        self.picture.tick(Timestamp::from_millis(ms));
        if let Some(knots) = now.stw {
            say(&mut self.picture, ms, stw(knots));
        }
        say(
            &mut self.picture,
            ms,
            over_ground(now.ground.0, now.ground.1),
        );
        say(&mut self.picture, ms, heading(now.heading));
        say(&mut self.picture, ms, pitch(now.pitch));
        if let Some(degrees) = now.heel {
            say(&mut self.picture, ms, heel(degrees));
        }
        if let Some((angle, speed)) = now.wind {
            let (angle, speed) = (rounded(angle, 1.0), rounded(speed, 0.1));
            say(&mut self.picture, ms, apparent(angle, speed));
        }
        self.second += 1;
    }

    fn has(&self, fault: Fault) -> bool {
        has(&self.picture, fault)
    }

    /// Sails on until a fault is found; how many seconds that took. It must
    /// be found within what its row promises.
    #[track_caller]
    fn found_after(&mut self, fault: Fault, change: impl Fn(&mut Moment)) -> u64 {
        let promised = u64::from(row(fault).within_s);
        for second in 0..=promised {
            if self.has(fault) {
                println!("{fault}: found after {second} s, promised {promised}");
                return second;
            }
            self.sail(1, &change);
        }
        panic!("{fault}: not within {promised} s");
    }

    /// Sails on, and nothing at all is found.
    #[track_caller]
    fn sound(&mut self, seconds: u64, change: impl Fn(&mut Moment)) {
        for _ in 0..seconds {
            self.sail(1, &change);
            let faults: Vec<Fault> = self.picture.faults().collect();
            assert_eq!(faults, [], "second {}", self.second);
        }
    }

    fn mean_kn(&self) -> Option<f64> {
        self.picture.wind(secs(self.second)).mean_1min_kn
    }

    fn other(&mut self, source: u32, rank: u8, measure: Measure) {
        let at = Timestamp::from_millis(self.second.saturating_sub(1) * 1000 + 400);
        let reading = Reading {
            source: SourceId(source),
            rank: Rank(rank),
            at,
            heard: Heard::Value(measure),
        };
        self.picture.hear(&reading, at);
    }
}

fn plainly(_: &mut Moment) {}

fn true_wind(angle: f64, speed: f64) -> Measure {
    match apparent(angle, speed) {
        Measure::ApparentWind { angle, speed } => Measure::TrueWind { angle, speed },
        other => other,
    }
}

#[test]
fn every_row_names_two_tests_that_are_here() {
    let here = include_str!("lies.rs");
    for row in ROWS {
        for test in [row.found_by, row.honest_twin] {
            let line = format!("#[test]\nfn {test}()");
            assert!(here.contains(&line), "{}: {test}", row.lie);
        }
    }
}

#[test]
fn a_unit_that_falls_silent_is_lost() {
    let mut boat = Boat::new();
    boat.sail(100, plainly);
    boat.found_after(Fault::Lost(Quantity::ApparentWind), |now| now.wind = None);
    assert_eq!(boat.mean_kn(), None);
}

#[test]
fn a_gateway_of_a_tenth_of_a_hertz_is_not_lost() {
    let mut boat = Boat::new();
    boat.sound(3600, |now| {
        now.wind = now.wind.filter(|_| (now.t as u64).is_multiple_of(10));
    });
    assert!(boat.mean_kn().is_some());
}

fn say_invalid(boat: &mut Boat) {
    let at = Timestamp::from_millis(boat.second.saturating_sub(1) * 1000 + 500);
    let reading = Reading {
        source: SourceId(Quantity::ApparentWind.index() as u32),
        rank: Rank::AUTOMATIC,
        at,
        heard: Heard::Invalid(Quantity::ApparentWind),
    };
    boat.picture.hear(&reading, at);
}

#[test]
fn a_unit_that_says_invalid_is_believed_in_that() {
    let mut boat = Boat::new();
    boat.sail(100, plainly);
    for _ in 0..5 {
        boat.sail(1, |now| now.wind = None);
        say_invalid(&mut boat);
    }
    assert!(boat.has(Fault::Invalid(Quantity::ApparentWind)));
    assert_eq!(boat.mean_kn(), None);
}

#[test]
fn one_invalid_line_in_a_row_of_good_ones_is_no_fault() {
    let mut boat = Boat::new();
    for _ in 0..60 {
        boat.sound(10, plainly);
        say_invalid(&mut boat);
    }
}

/// A wind unit that repeats itself while all else is alive: at 1 Hz in a
/// seaway, and in flat water from the start.
#[test]
fn a_frozen_feed_is_found() {
    let fault = Fault::Frozen(Quantity::ApparentWind);
    let mut boat = Boat::new();
    boat.sail(600, plainly);
    let frozen = |now: &mut Moment| now.wind = Some((33.0, 19.4));
    boat.found_after(fault, frozen);
    boat.sail(7200, frozen);
    assert!(boat.has(fault));
    assert_eq!(boat.mean_kn(), None);
    let mut boat = Boat::new();
    let flat = |now: &mut Moment| {
        now.heel = Some(-2.0);
        now.pitch = 0.0;
        now.heading = 40.0 + 2.0 * (now.t / 200.0).sin();
    };
    boat.sail(600, flat);
    boat.found_after(fault, |now| {
        flat(now);
        now.wind = Some((33.0, 9.4));
    });
}

#[test]
fn a_damped_unit_of_whole_knots_and_degrees_is_not_frozen() {
    for (mean, constant) in [(5.0, 20.0), (10.0, 10.0), (6.0, 30.0)] {
        let mut boat = Boat::new();
        let mut dice = Dice::new(11);
        let (mut shown, mut gust) = ((40.0, mean), 0.0);
        for _ in 0..7200 {
            gust = 0.98 * gust + 0.2 * dice.normal();
            let fresh = (40.0 + 4.0 * dice.normal(), mean * (1.0 + 0.08 * gust));
            shown.0 += (fresh.0 - shown.0) / constant;
            shown.1 += (fresh.1 - shown.1) / constant;
            boat.sail(1, |now| {
                now.wind = Some((shown.0.round(), shown.1.round()));
                now.heel = Some(-2.0 + 0.5 * (now.t / 1.1).sin());
                // A vane that is damped still shows a turn.
                now.heading = 40.0 + 3.0 * (now.t / 31.0).sin();
            });
            let faults: Vec<Fault> = boat.picture.faults().collect();
            assert_eq!(faults, [], "{mean} kn damped {constant} s, {}", boat.second);
        }
    }
}

#[test]
fn heel_that_hangs_at_45_in_8_knots_is_found() {
    let fault = Fault::Frozen(Quantity::Heel);
    let light = |now: &mut Moment| {
        now.wind = now.wind.map(|(angle, speed)| (angle, 0.4 * speed));
        now.heel = now.heel.map(|heel| rounded(0.3 * heel, 0.1));
    };
    let mut boat = Boat::new();
    boat.sail(600, light);
    let hung = |now: &mut Moment| {
        light(now);
        now.heel = Some(-45.0);
    };
    let took = boat.found_after(fault, hung);
    assert!(took <= 30, "before it is past its limit: {took}");
    boat.sail(300, hung);
    assert!(boat.has(fault) && !boat.has(Fault::CupsSlow));
    assert_eq!(
        boat.picture.heel(secs(boat.second), Some(25.0)).mean_deg,
        None
    );
    // The wind is as good as before.
    assert!(boat.mean_kn().is_some());
    boat.sail(120, light);
    assert!(!boat.has(fault));
    // At an ordinary heel it takes a minute.
    boat.found_after(fault, |now| now.heel = Some(-17.3));
}

#[test]
fn heel_of_whole_degrees_in_flat_water_is_not_frozen() {
    let mut boat = Boat::new();
    boat.sound(7200, |now| {
        now.heel = Some(-1.0);
        now.pitch = 0.0;
        now.wind = now.wind.map(|(angle, speed)| (angle, 0.3 * speed));
    });
    let mut boat = Boat::new();
    boat.sound(3600, |now| {
        let heel = -8.0 + (now.t / 50.0).sin();
        now.heel = Some(heel.round());
    });
}

#[test]
fn cups_that_stop_freeze_or_drag_are_found() {
    let fault = Fault::CupsSlow;
    for speed in [0.0, 17.3] {
        let mut boat = Boat::new();
        boat.sail(300, plainly);
        boat.found_after(fault, |now| {
            now.wind = now.wind.map(|(angle, _)| (angle, speed));
        });
        assert_eq!(boat.mean_kn(), None);
    }
    let mut boat = Boat::new();
    boat.sail(1800, plainly);
    boat.found_after(fault, |now| {
        now.wind = now.wind.map(|(angle, speed)| (angle, 0.55 * speed));
    });
}

#[test]
fn a_sound_unit_in_a_seaway_is_never_doubted() {
    let mut boat = Boat::new();
    boat.sound(4 * 3600, plainly);
}

#[test]
fn a_vane_that_sticks_is_found() {
    let mut boat = Boat::new();
    boat.sail(300, plainly);
    boat.found_after(Fault::VaneStuck, |now| {
        now.wind = now.wind.map(|(_, speed)| (33.0, speed));
    });
}

#[test]
fn a_still_vane_at_a_mooring_is_not_stuck() {
    let mut boat = Boat::new();
    boat.sound(7200, |now| {
        now.wind = Some((10.0, 6.0));
        now.heel = Some(1.0);
        now.pitch = 0.0;
        now.heading = 120.0;
        now.stw = Some(0.0);
        now.ground = (0.1, 0.0);
    });
}

/// Two units, the second of which reads 1.6 times as much, and is preferred
/// or not.
fn two_units(boat: &mut Boat, seconds: u64, factor: f64, rank: u8) {
    for _ in 0..seconds {
        boat.sail(1, plainly);
        let speed = factor * (20.0 + 1.5 * (boat.second as f64 / 9.0).sin());
        boat.other(900, rank, apparent(35.0, speed));
    }
}

#[test]
fn two_wind_units_apart_give_both_levels() {
    let fault = Fault::Disagree(Quantity::ApparentWind);
    let mut boat = Boat::new();
    two_units(&mut boat, 120, 1.6, 128);
    assert!(boat.has(fault));
    let wind = boat.picture.wind(secs(boat.second));
    let (one, other) = (wind.mean_1min_kn.unwrap(), wind.other_mean_kn.unwrap());
    assert!(
        (one - 15.5).abs() < 1.0 && (other - 27.3).abs() < 1.0,
        "{one} {other}"
    );
    let needs = boat.picture.needs(secs(boat.second));
    assert_eq!(needs, WindHealth::Degraded(fault));
    // A preferred one is believed while it is well by itself.
    let mut boat = Boat::new();
    two_units(&mut boat, 120, 1.6, 200);
    assert!(boat.has(fault));
    let wind = boat.picture.wind(secs(boat.second));
    assert!(wind.mean_1min_kn.is_some() && wind.other_mean_kn.is_none());
}

#[test]
fn two_wind_units_at_two_heights_do_not_disagree() {
    let mut boat = Boat::new();
    two_units(&mut boat, 1800, 0.85, 128);
    assert_eq!(boat.picture.faults().count(), 0);
}

#[test]
fn two_logs_apart_disagree() {
    let mut boat = Boat::new();
    for _ in 0..120 {
        boat.sail(1, plainly);
        boat.other(901, 128, stw(8.0));
    }
    assert!(boat.has(Fault::Disagree(Quantity::WaterSpeed)));
}

#[test]
fn two_logs_a_little_apart_do_not() {
    let mut boat = Boat::new();
    for _ in 0..600 {
        boat.sail(1, plainly);
        boat.other(901, 128, stw(6.6));
    }
    assert_eq!(boat.picture.faults().count(), 0);
}

/// She tacks every four minutes; her vane has lost its side, or has not.
fn tacking(now: &mut Moment, is_unsigned: bool, has_heel: bool) {
    let is_port = now.t as u64 / 240 % 2 == 1;
    let side = if is_port { -1.0 } else { 1.0 };
    // True wind from 90, some 50 off the bow on either tack.
    now.heading = 90.0 - side * 50.0 + 4.0 * (now.t / 31.0).sin();
    now.ground.1 = now.heading;
    now.heel = now.heel.map(|heel| side * heel).filter(|_| has_heel);
    now.wind = now
        .wind
        .map(|(angle, speed)| (if is_unsigned { angle } else { side * angle }, speed));
}

#[test]
fn an_angle_without_its_side_is_found_by_heel_and_by_turns() {
    let fault = Fault::AngleUnsigned;
    // By heel: on the other tack.
    let mut boat = Boat::new();
    boat.sail(300, |now| now.heel = now.heel.map(|heel| -heel));
    assert!(boat.has(fault));
    assert_eq!(boat.picture.wind(secs(300)).twd_deg, None);
    assert!(boat.mean_kn().is_some(), "speed stands");
    // By turns, without any heel.
    let mut boat = Boat::new();
    boat.sail(1200, |now| tacking(now, true, false));
    assert!(boat.has(fault));
    assert_eq!(boat.picture.wind(secs(1200)).twd_deg, None);
}

/// Stuck to starboard, she tacks: the heel is to windward by that angle.
#[test]
fn a_vane_that_sticks_is_not_one_without_its_side() {
    let mut boat = Boat::new();
    boat.sail(300, plainly);
    let stuck = |now: &mut Moment| {
        tacking(now, false, true);
        now.wind = now.wind.map(|(_, speed)| (33.0, speed));
    };
    for _ in 0..3600 {
        boat.sail(1, stuck);
        assert!(!boat.has(Fault::AngleUnsigned), "{}", boat.second);
    }
    assert!(boat.has(Fault::VaneStuck));
}

#[test]
fn hours_on_one_tack_with_turns_are_no_unsigned_angle() {
    // Close-hauled and broad reaching in turns, always on starboard tack.
    let mut boat = Boat::new();
    for _ in 0..4 * 3600 {
        boat.sail(1, |now| {
            let is_broad = now.t as u64 / 400 % 2 == 1;
            let (off, awa) = if is_broad {
                (130.0, 108.0)
            } else {
                (50.0, 35.0)
            };
            now.heading = 90.0 - off + 4.0 * (now.t / 31.0).sin();
            now.ground.1 = now.heading;
            now.wind = now.wind.map(|(angle, speed)| (angle - 35.0 + awa, speed));
        });
        assert!(!boat.has(Fault::AngleUnsigned), "{}", boat.second);
    }
    // And a vane with its side, tacking.
    let mut boat = Boat::new();
    boat.sail(3600, |now| tacking(now, false, true));
    assert!(!boat.has(Fault::AngleUnsigned));
}

/// Truth 15.1 kn; with the boat's speed turned about it would be 25.
#[test]
fn without_a_log_a_wrong_heading_takes_sog_along_the_bow() {
    let wrong = |now: &mut Moment| {
        now.stw = None;
        now.heading = 220.0 + 3.0 * (now.t / 31.0).sin();
        now.ground = (6.5, 40.0);
    };
    let mut boat = Boat::new();
    boat.found_after(Fault::HeadingAgainstCourse, wrong);
    let mut boat = Boat::new();
    for _ in 0..600 {
        boat.sail(1, wrong);
        let off = boat.mean_kn().map_or(0.0, |kn| (kn - 15.1).abs());
        assert!(off < 1.5, "second {}: {off}", boat.second);
    }
}

#[test]
fn a_strong_stream_on_the_beam_is_no_wrong_heading() {
    // 3 kn of stream across 5 kn of her own: 31 degrees.
    let mut boat = Boat::new();
    boat.sound(3600, |now| {
        now.stw = Some(rounded(5.0 + 0.2 * (now.t / 17.0).sin(), 0.1));
        now.ground = (5.8, now.heading + 31.0);
    });
}

#[test]
fn a_fouled_log_gives_way_to_sog() {
    let mut boat = Boat::new();
    boat.sail(300, plainly);
    boat.found_after(Fault::NoWaterSpeed, |now| now.stw = Some(0.0));
    boat.sail(90, |now| now.stw = Some(0.0));
    assert!((boat.mean_kn().unwrap() - 15.5).abs() < 1.0);
}

#[test]
fn a_log_in_a_stream_is_not_fouled() {
    let mut boat = Boat::new();
    boat.sound(1800, |now| {
        now.stw = Some(2.0 + 0.2 * (now.t / 17.0).sin());
        now.ground = (5.5, now.heading);
    });
}

#[test]
fn true_wind_alone_is_named() {
    let mut boat = Boat::new();
    for _ in 0..90 {
        boat.sail(1, |now| now.wind = None);
        boat.other(902, 128, true_wind(50.0, 15.0));
    }
    assert!(boat.has(Fault::TrueWindOnly));
    assert!(boat.mean_kn().is_some());
}

#[test]
fn a_wild_value_is_struck_out_and_named() {
    let mut boat = Boat::new();
    boat.sail(300, plainly);
    boat.sail(1, |now| now.wind = Some((200.0, 90.0)));
    boat.sail(1, |now| now.heel = Some(80.0));
    boat.sail(5, plainly);
    assert!(boat.has(Fault::Spikes(Quantity::ApparentWind)));
    assert!(boat.has(Fault::Spikes(Quantity::Heel)));
    boat.sail(60, plainly);
    let wind = boat.picture.wind(secs(boat.second));
    assert!(wind.gust_kn.unwrap() < 19.0, "{:?}", wind.gust_kn);
    boat.sail(10, plainly);
    assert_eq!(boat.picture.faults().count(), 0);
}

/// From 14 to 28 kn in ten seconds, by units of up to 100 Hz.
#[test]
fn a_fast_feed_loses_no_rise() {
    for hz in [10u64, 24, 30, 50, 70, 100] {
        let instruments = Instruments {
            mast_motion: Some(Metres::new(18.0).unwrap()),
            ..Instruments::default()
        };
        let mut picture = Picture::new(&instruments);
        let mut dice = Dice::new(5);
        let mut blind = 0;
        for n in 0..400 * hz {
            let ms = n * 1000 / hz;
            let t = ms as f64 / 1000.0;
            let rise = ((t - 300.0) / 10.0).clamp(0.0, 1.0);
            let speed = 14.0 * (1.0 + rise) * (1.0 + 0.05 * dice.normal());
            say(&mut picture, ms, stw(0.0));
            say(&mut picture, ms, heel(-12.0 + 5.0 * (t / 1.1).sin()));
            say(
                &mut picture,
                ms,
                apparent(40.0 + dice.normal(), rounded(speed, 0.1)),
            );
            if ms % 1000 < 1000 / hz && t > 20.0 {
                let wind = picture.wind(Timestamp::from_millis(ms));
                blind += u64::from(wind.tws_kn.is_none());
            }
        }
        let wind = picture.wind(secs(400));
        let mean = wind.mean_1min_kn.unwrap();
        assert_eq!(blind, 0, "{hz} Hz");
        assert!((mean - 28.0).abs() < 1.0, "{hz} Hz: {mean}");
        assert!(wind.gated < 5, "{hz} Hz: {} gated", wind.gated);
    }
}

#[test]
fn no_heading_and_no_variation_are_named() {
    let mut picture = Picture::new(&Instruments::default());
    for second in 0..70 {
        say(&mut picture, second * 1000, stw(6.0));
        say(&mut picture, second * 1000, apparent(35.0, 20.0));
    }
    assert!(has(&picture, Fault::NoHeading));
    for second in 70..80 {
        say(&mut picture, second * 1000, compass(40.0));
        say(&mut picture, second * 1000, apparent(35.0, 20.0));
    }
    assert!(has(&picture, Fault::NoVariation) && !has(&picture, Fault::NoHeading));
}

/// Cups that fade to 0.4 of their speed over half an hour at 20 degrees of
/// heel: named first, then struck out.
#[test]
fn cups_that_fade_over_half_an_hour_are_named() {
    let mut boat = Boat::new();
    boat.sound(3600, plainly);
    let fades = |now: &mut Moment| {
        let left = 1.0 - 0.6 * ((now.t - 3600.0) / 1800.0).clamp(0.0, 1.0);
        now.wind = now.wind.map(|(angle, speed)| (angle, left * speed));
    };
    boat.found_after(Fault::WindLowForHeel, fades);
    let worst = boat.mean_kn().map_or(0.0, |kn| 15.5 - kn);
    println!("1-minute mean off by {worst:.1} kn when it is named");
    assert!(worst < 3.0, "{worst}");
    let mut struck = false;
    for _ in 0..1800 {
        boat.sail(1, fades);
        struck |= boat.has(Fault::CupsSlow);
        let has_word = struck || boat.has(Fault::WindLowForHeel);
        assert!(has_word, "second {}", boat.second);
    }
    assert!(struck);
    // Kept over a restart, it is found from the first minutes on.
    let learnt = boat.picture.learnt_heel();
    let mut again = Boat::new();
    again.picture.restore_learnt_heel(learnt, 0);
    again.sail(600, |now| {
        now.wind = now.wind.map(|(angle, speed)| (angle, 0.6 * speed));
    });
    assert!(again.has(Fault::CupsSlow));
}

#[test]
fn another_plan_and_another_point_of_sail_are_no_drag() {
    let mut boat = Boat::new();
    boat.sound(3600, plainly);
    // Reaching she heels half as much again for the same apparent wind.
    let reaching = |now: &mut Moment| {
        now.wind = now.wind.map(|(angle, speed)| (angle + 30.0, speed));
        now.heel = now.heel.map(|heel| rounded(1.3 * heel, 0.1));
    };
    boat.sound(3600, reaching);
    boat.sound(1800, plainly);
    // A reef, and out again.
    boat.picture.plan_changed(1, Some(0.75));
    boat.sound(3600, |now| {
        now.heel = now.heel.map(|heel| rounded(0.65 * heel, 0.1))
    });
    boat.picture.plan_changed(0, Some(1.0 / 0.75));
    boat.sound(3600, plainly);
}

/// What was learnt is kept: a fade after a restart is named as soon.
#[test]
fn cups_that_fade_after_a_restart_are_named_as_soon() {
    let mut before = Boat::new();
    before.sound(3600, plainly);
    let mut boat = Boat::new();
    boat.picture
        .restore_learnt_heel(before.picture.learnt_heel(), 0);
    boat.found_after(Fault::WindLowForHeel, |now| {
        let left = 1.0 - 0.6 * (now.t / 1800.0).clamp(0.0, 1.0);
        now.wind = now.wind.map(|(angle, speed)| (angle, left * speed));
    });
}

/// Reefed, in a flatter sea, on the other tack, and a few degrees freer.
#[test]
fn a_reef_a_flatter_sea_and_the_other_tack_are_no_drag() {
    let mut boat = Boat::new();
    boat.sound(3600, plainly);
    for tack in 0..12 {
        let side = if tack % 2 == 0 { -1.0 } else { 1.0 };
        let tacked = |now: &mut Moment| tacking_for_good(now, side);
        // From tack to tack in a second is a wild value to the gate.
        boat.sail(90, tacked);
        boat.sound(900, tacked);
    }
    boat.sound(3600, |now| {
        now.heel = Some(rounded(-18.0 + 0.8 * (now.t / 1.1).sin(), 0.1));
    });
    boat.picture.plan_changed(1, Some(0.75));
    boat.sound(3600, |now| {
        now.heel = Some(rounded(-12.0 + 0.8 * (now.t / 1.1).sin(), 0.1));
    });
}

/// On one tack or the other; on port she heels a twelfth more.
fn tacking_for_good(now: &mut Moment, side: f64) {
    let more = if side < 0.0 { 1.08 } else { 1.0 };
    now.heading = 90.0 - side * 50.0 + 4.0 * (now.t / 31.0).sin();
    now.ground.1 = now.heading;
    now.heel = now.heel.map(|heel| rounded(side * more * heel, 0.1));
    now.wind = now.wind.map(|(angle, speed)| (side * angle, speed));
}

#[test]
fn an_instruments_own_true_wind_ten_knots_off_is_named() {
    let mut boat = Boat::new();
    for _ in 0..300 {
        boat.sail(1, plainly);
        boat.other(903, 128, true_wind(50.0, 25.0));
    }
    assert!(boat.has(Fault::TrueWindDiffers));
    assert!((boat.mean_kn().unwrap() - 15.5).abs() < 1.0, "ours stands");
}

#[test]
fn an_instruments_true_wind_over_ground_is_not() {
    let mut boat = Boat::new();
    for _ in 0..3600 {
        boat.sail(1, plainly);
        boat.other(903, 128, true_wind(50.0, 18.0));
    }
    assert_eq!(boat.picture.faults().count(), 0);
}

fn with_a_mast() -> Boat {
    Boat::with(Instruments {
        mast_motion: Some(Metres::new(18.0).unwrap()),
        heel_offset: Degrees::new(0.0).unwrap(),
        ..Instruments::default()
    })
}

#[test]
fn heel_too_slow_for_the_mast_is_named() {
    let mut boat = with_a_mast();
    boat.sail(90, |now| {
        now.heel = now.heel.filter(|_| (now.t as u64).is_multiple_of(3))
    });
    assert!(boat.has(Fault::SlowHeel));
}

#[test]
fn heel_at_one_hertz_is_not_too_slow() {
    let mut boat = with_a_mast();
    boat.sail(300, plainly);
    assert!(!boat.has(Fault::SlowHeel));
}

#[test]
fn a_flat_calm_has_no_direction() {
    let mut boat = Boat::new();
    boat.sail(120, |now| {
        now.wind = Some((0.0, 0.0));
        now.stw = Some(0.0);
        now.ground = (0.0, 0.0);
        now.heel = Some(0.0);
    });
    let wind = boat.picture.wind(secs(boat.second));
    assert_eq!(
        (wind.awa_deg, wind.twa_deg, wind.twd_deg),
        (None, None, None)
    );
    assert_eq!(wind.tws_kn, Some(0.0));
}

/// True wind 15.1 kn all the way; she tacks through 100 degrees in 10 s.
#[test]
fn the_true_wind_does_not_dip_through_a_tack() {
    let mut picture = Picture::new(&Instruments::default());
    let mut least = f64::INFINITY;
    for tenth in 0..1200u64 {
        let ms = tenth * 100;
        let t = ms as f64 / 1000.0;
        let turned = 100.0 * ((t - 60.0) / 10.0).clamp(0.0, 1.0);
        let off: f64 = 49.254 - turned;
        let (y, x) = (
            15.142 * off.to_radians().sin(),
            15.142 * off.to_radians().cos() + 6.5,
        );
        say(&mut picture, ms, stw(6.5));
        say(&mut picture, ms, heading(40.0 + turned));
        say(
            &mut picture,
            ms,
            apparent(y.atan2(x).to_degrees(), x.hypot(y)),
        );
        if t > 20.0 {
            let tws = picture.wind(Timestamp::from_millis(ms)).tws_kn;
            least = least.min(tws.unwrap());
        }
    }
    println!("least true wind through the tack: {least:.2} kn of 15.14");
    assert!(least > 14.9, "{least}");
}

/// One sender with 676 talkers beside a sound unit, its wind the same.
#[test]
fn a_sender_with_676_talkers_blinds_nobody() {
    let mut boat = Boat::new();
    boat.sail(60, plainly);
    for n in 0..1800u32 {
        boat.sail(1, plainly);
        for k in 0..10 {
            let speed = 20.0 + 1.5 * (boat.second as f64 / 9.0).sin();
            boat.other(1000 + (10 * n + k) % 676, 128, apparent(35.0, speed));
        }
        assert!(boat.mean_kn().is_some(), "second {}", boat.second);
        let wind = Quantity::ApparentWind;
        let sources = boat.picture.sources(secs(boat.second));
        let of_wind = sources.iter().find(|source| source.quantity == wind);
        assert_eq!(of_wind.unwrap().source, SourceId(wind.index() as u32));
    }
    assert_eq!(boat.picture.faults().count(), 0);
}

/// 18 and 27 kn: both are over the plan's limit, and it is called by either.
#[test]
fn two_wind_units_apart_call_what_both_support() {
    let boat = cringle_boat::example().unwrap().boat;
    let mut watch = Watch::new(&boat, None, Timestamp::ZERO);
    let mut dice = Dice::new(3);
    let mut worst = Call::None;
    for second in 0..1200u64 {
        let at = Timestamp::from_secs(second);
        let mut hear = |source, measure: Measure| {
            let reading = Reading {
                source: SourceId(source),
                rank: Rank::AUTOMATIC,
                at,
                heard: Heard::Value(measure),
            };
            watch.hear(&reading, at);
        };
        let gust = 1.0 + 0.02 * dice.normal();
        hear(1, apparent(60.0, rounded(18.0 * gust, 0.1)));
        hear(2, apparent(60.0, rounded(27.0 * gust, 0.1)));
        hear(3, stw(0.0));
        let view = watch.view();
        worst = worst.max(view.call.call);
        assert!(second < 300 || view.call.call == Call::Past, "{second}");
        if second == 1199 {
            println!("{}", view.call.why);
            assert!(view.call.why.contains("18 or 27"), "{}", view.call.why);
        }
    }
    assert_eq!(worst, Call::Past);
}

/// A true wind that rises from 6 to 26 kn in 50 minutes by one unit, and by
/// another that reads 1.5 times as much, whichever was heard first.
#[test]
fn a_ramp_beside_a_unit_that_reads_half_as_much_again_is_called() {
    let boat = cringle_boat::example().unwrap().boat;
    for strong_first in [false, true] {
        let mut watch = Watch::new(&boat, None, Timestamp::ZERO);
        let mut dice = Dice::new(3);
        let mut calls: Vec<(Call, f64, Option<f64>)> = Vec::new();
        for second in 0..3600u64 {
            let at = Timestamp::from_secs(second);
            let knots = 6.0 + 20.0 * (second as f64 / 3000.0).min(1.0);
            let gust = knots * (1.0 + 0.03 * dice.normal());
            let (one, other) = match strong_first {
                true => (1.5 * gust, gust),
                false => (gust, 1.5 * gust),
            };
            let said = [apparent(60.0, one), apparent(60.0, other), stw(0.0)];
            for (measure, source) in said.into_iter().zip(1..) {
                let reading = Reading {
                    source: SourceId(source),
                    rank: Rank::AUTOMATIC,
                    at,
                    heard: Heard::Value(measure),
                };
                watch.hear(&reading, at);
            }
            let view = watch.view();
            assert!(second < 60 || view.call.call != Call::Blind, "{second}");
            if calls
                .last()
                .is_none_or(|(last, ..)| *last != view.call.call)
            {
                let rung = view.ladder.iter().find(|rung| rung.id == view.plan.id);
                let limit = rung.and_then(|rung| rung.limit_kn);
                calls.push((view.call.call, knots, limit));
            }
        }
        println!("strong first {strong_first}: {calls:.1?}");
        let (last, ..) = calls.last().unwrap();
        assert_eq!(*last, Call::Past);
        // Asked for before the weaker of the two is over the limit.
        let (_, knots, limit) = calls
            .iter()
            .find(|(call, ..)| *call >= Call::Reduce)
            .unwrap();
        assert!(*knots < limit.unwrap(), "{calls:.1?}");
    }
}
