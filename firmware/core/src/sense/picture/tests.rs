use super::*;
use crate::angle::{Bearing, BowAngle};
use crate::reading::{Measure, Rank};
use crate::units::{Degrees, Metres, SignedKnots};

/// Says a measure as its usual source would.
fn say(picture: &mut Picture, millis: u64, measure: Measure) {
    let at = Timestamp::from_millis(millis);
    let reading = Reading {
        source: SourceId(measure.quantity().index() as u32),
        rank: Rank::AUTOMATIC,
        at,
        heard: Heard::Value(measure),
    };
    picture.hear(&reading, at);
}

fn apparent(angle: f64, speed: f64) -> Measure {
    Measure::ApparentWind {
        angle: BowAngle::new(angle).unwrap(),
        speed: Knots::new(speed).unwrap(),
    }
}

fn stw(knots: f64) -> Measure {
    Measure::WaterSpeed(SignedKnots::new(knots).unwrap())
}

fn heading(degrees: f64) -> Measure {
    Measure::HeadingTrue(Bearing::new(degrees).unwrap())
}

fn heel(degrees: f64) -> Measure {
    Measure::Heel(Degrees::new(degrees).unwrap())
}

fn over_ground(knots: f64) -> Measure {
    Measure::GroundMotion {
        speed: Knots::new(knots).unwrap(),
        course: None,
    }
}

/// A steady boat at 1 Hz: AWS 20 at +35, STW 6.5, HDG 040.
fn steady(picture: &mut Picture, seconds: core::ops::Range<u64>) {
    for second in seconds {
        let ms = second * 1000;
        say(picture, ms, stw(6.5));
        say(picture, ms, heading(40.0));
        say(picture, ms + 200, apparent(35.0, 20.0));
        say(picture, ms + 300, heel(-18.0));
    }
}

fn secs(seconds: u64) -> Timestamp {
    Timestamp::from_secs(seconds)
}

fn has(picture: &Picture, fault: Fault) -> bool {
    picture.faults().any(|f| f == fault)
}

#[test]
fn a_steady_boat_gives_the_worked_triangle_everywhere() {
    let mut picture = Picture::new(&Instruments::default());
    steady(&mut picture, 0..700);
    let wind = picture.wind(secs(700));
    for tws in [
        wind.tws_kn,
        wind.mean_1min_kn,
        wind.mean_2min_kn,
        wind.mean_10min_kn,
        wind.gust_kn,
    ] {
        assert!((tws.unwrap() - 15.142).abs() < 0.001, "{tws:?}");
    }
    assert!((wind.twa_deg.unwrap() - 49.254).abs() < 0.001);
    assert!((wind.twd_deg.unwrap() - 89.254).abs() < 0.001);
    assert_eq!(picture.needs(secs(700)), WindHealth::Good);
    assert_eq!(picture.faults().count(), 0);
    assert_eq!(picture.last_minutes().count(), 11);
    let minute = picture.next_minute().unwrap();
    assert_eq!(minute.start, secs(0));
    assert!((minute.mean_kn.unwrap() - 15.142).abs() < 0.001);
    let heel = picture.heel(secs(700), Some(17.0));
    assert!((heel.mean_deg.unwrap() + 18.0).abs() < 1e-5);
    assert_eq!(heel.share_past, Some(1.0));
}

#[test]
fn old_wind_vanishes_and_is_a_fault() {
    let mut picture = Picture::new(&Instruments::default());
    steady(&mut picture, 0..100);
    for second in 100..110 {
        picture.tick(secs(second));
    }
    let wind = picture.wind(secs(110));
    assert_eq!(wind.tws_kn, None);
    assert_eq!(wind.mean_1min_kn, None);
    assert_eq!(wind.aws_kn, None);
    assert!(has(&picture, Fault::Lost(Quantity::ApparentWind)));
    let what = Quantity::ApparentWind;
    assert_eq!(picture.needs(secs(110)), WindHealth::Lost { what });
    // A view asked for late knows it without a tick.
    let mut asleep = Picture::new(&Instruments::default());
    steady(&mut asleep, 0..100);
    assert_eq!(asleep.wind(secs(110)).tws_kn, None);
    assert_eq!(asleep.heel(secs(110), None).mean_deg, None);
}

#[test]
fn a_minute_with_too_little_data_is_a_gap() {
    let mut picture = Picture::new(&Instruments::default());
    steady(&mut picture, 0..140);
    steady(&mut picture, 170..310);
    let minutes: std::vec::Vec<Minute> = picture.last_minutes().collect();
    assert_eq!(minutes.len(), 5);
    assert!(!minutes[1].is_gap() && !minutes[3].is_gap());
    // To 139.2 s, 6 s that the last sample may stand, then from 170.2 s.
    assert!(
        (minutes[2].share - 35.0 / 60.0).abs() < 0.01,
        "{}",
        minutes[2].share
    );
    steady(&mut picture, 350..430);
    let minutes: std::vec::Vec<Minute> = picture.last_minutes().collect();
    assert!(minutes[5].is_gap() && minutes[5].share < 0.5);
}

#[test]
fn extra_ticks_change_nothing() {
    let mut plain = Picture::new(&Instruments::default());
    let mut ticked = Picture::new(&Instruments::default());
    for tenth in 0..3000u64 {
        let ms = tenth * 100;
        let speed = 15.0 + (tenth as f64 * 0.37).sin() * 3.0;
        let silent = (1000..1100).contains(&tenth);
        for picture in [&mut plain, &mut ticked] {
            if !silent {
                say(picture, ms + 3, apparent(40.0, speed));
            }
            say(picture, ms + 7, stw(6.0));
        }
        for extra in [0, 3, 31, 77] {
            ticked.tick(Timestamp::from_millis(ms + 7 + extra));
        }
    }
    let end = secs(301);
    plain.tick(end);
    ticked.tick(end);
    assert_eq!(plain.wind(end), ticked.wind(end));
    loop {
        let (a, b) = (plain.next_turn(), ticked.next_turn());
        assert_eq!(a, b);
        if a.is_none() {
            break;
        }
    }
}

#[test]
fn a_fouled_log_is_not_believed_and_sog_stands_in() {
    let mut picture = Picture::new(&Instruments::default());
    for second in 0..120 {
        let ms = second * 1000;
        say(&mut picture, ms, stw(0.0));
        say(&mut picture, ms, over_ground(6.5));
        say(&mut picture, ms, apparent(35.0, 20.0));
    }
    let wind = picture.wind(secs(120));
    assert!((wind.mean_1min_kn.unwrap() - 15.142).abs() < 0.001);
    assert!(has(&picture, Fault::NoWaterSpeed));
    assert_eq!(
        picture.needs(secs(120)),
        WindHealth::Degraded(Fault::NoWaterSpeed)
    );
    assert_eq!(picture.motion(secs(120)).stw_kn, None);
}

#[test]
fn without_a_heading_speed_and_angle_still_stand() {
    let mut picture = Picture::new(&Instruments::default());
    for second in 0..120 {
        say(&mut picture, second * 1000, stw(6.5));
        say(&mut picture, second * 1000, apparent(35.0, 20.0));
    }
    let wind = picture.wind(secs(120));
    assert!((wind.tws_kn.unwrap() - 15.142).abs() < 0.001);
    assert!((wind.twa_deg.unwrap() - 49.254).abs() < 0.001);
    assert_eq!(wind.twd_deg, None);
    assert!(has(&picture, Fault::NoHeading));
    assert_eq!(picture.needs(secs(120)), WindHealth::Good);
}

#[test]
fn a_magnetic_direction_is_never_shown_as_true() {
    let mut picture = Picture::new(&Instruments::default());
    for second in 0..120 {
        let ms = second * 1000;
        say(&mut picture, ms, stw(6.5));
        say(
            &mut picture,
            ms,
            Measure::HeadingMagnetic(Bearing::new(40.0).unwrap()),
        );
        say(&mut picture, ms, apparent(35.0, 20.0));
    }
    let wind = picture.wind(secs(120));
    assert_eq!(wind.twd_deg, None);
    assert!((wind.twd_magnetic_deg.unwrap() - 89.254).abs() < 0.001);
    assert!(has(&picture, Fault::NoVariation));
    say(
        &mut picture,
        120_000,
        Measure::Variation(Degrees::new(-3.0).unwrap()),
    );
    for second in 121..130 {
        let ms = second * 1000;
        say(
            &mut picture,
            ms,
            Measure::HeadingMagnetic(Bearing::new(40.0).unwrap()),
        );
        say(&mut picture, ms, stw(6.5));
        say(&mut picture, ms, apparent(35.0, 20.0));
    }
    let wind = picture.wind(secs(130));
    assert!((wind.twd_deg.unwrap() - 86.254).abs() < 0.001);
    assert!(!has(&picture, Fault::NoVariation));
}

#[test]
fn a_true_wind_alone_is_used_and_said_to_be_alone() {
    let mut picture = Picture::new(&Instruments::default());
    for second in 0..120 {
        let measure = Measure::TrueWind {
            angle: BowAngle::new(-60.0).unwrap(),
            speed: Knots::new(17.0).unwrap(),
        };
        say(&mut picture, second * 1000, measure);
    }
    let wind = picture.wind(secs(120));
    assert_eq!(wind.mean_1min_kn, Some(17.0));
    assert_eq!(wind.aws_kn, None);
    assert!(has(&picture, Fault::TrueWindOnly));
    assert_eq!(
        picture.needs(secs(120)),
        WindHealth::Degraded(Fault::TrueWindOnly)
    );
}

#[test]
fn invalid_wind_is_no_wind_and_says_so() {
    let mut picture = Picture::new(&Instruments::default());
    steady(&mut picture, 0..100);
    for second in 100..120 {
        let at = Timestamp::from_millis(second * 1000 + 200);
        let reading = Reading {
            source: SourceId(Quantity::ApparentWind.index() as u32),
            rank: Rank::AUTOMATIC,
            at,
            heard: Heard::Invalid(Quantity::ApparentWind),
        };
        picture.hear(&reading, at);
    }
    assert_eq!(picture.wind(secs(120)).tws_kn, None);
    assert!(has(&picture, Fault::Invalid(Quantity::ApparentWind)));
    steady(&mut picture, 120..200);
    assert!(!has(&picture, Fault::Invalid(Quantity::ApparentWind)));
    let turns: std::vec::Vec<Turn> = core::iter::from_fn(|| picture.next_turn()).collect();
    let invalid = Fault::Invalid(Quantity::ApparentWind);
    for turn in [FaultTurn::Began, FaultTurn::Ended] {
        let count = turns
            .iter()
            .filter(|t| **t == Turn::Fault(invalid, turn))
            .count();
        assert_eq!(count, 1, "{turns:?}");
    }
}

#[test]
fn wind_by_hand_counts_for_half_an_hour_and_no_longer() {
    let mut picture = Picture::new(&Instruments::default());
    picture.wind_by_hand(Knots::new(22.0).unwrap(), PointOfSail::Reaching, secs(100));
    assert_eq!(picture.needs(secs(1900)), WindHealth::ByHand);
    assert_eq!(picture.wind(secs(1900)).by_hand, Some((22.0, secs(100))));
    let what = Quantity::ApparentWind;
    assert_eq!(picture.needs(secs(1901)), WindHealth::Lost { what });
    assert_eq!(picture.wind(secs(1901)).by_hand, None);
}

#[test]
fn a_slow_heel_sensor_is_said_to_be_too_slow_for_the_mast() {
    let instruments = Instruments {
        mast_motion: Some(Metres::new(18.0).unwrap()),
        ..Instruments::default()
    };
    for (period, slow) in [(1, false), (3, true)] {
        let mut picture = Picture::new(&instruments);
        for second in 0..120 {
            let ms = second * 1000;
            say(&mut picture, ms, stw(6.5));
            say(&mut picture, ms, apparent(35.0, 20.0));
            if second % period == 0 {
                say(&mut picture, ms, heel(-18.0));
            }
        }
        assert_eq!(has(&picture, Fault::SlowHeel), slow);
        assert!(picture.wind(secs(120)).mean_1min_kn.is_some());
    }
}

#[test]
fn a_long_silence_or_a_leap_of_time_is_survived() {
    let mut picture = Picture::new(&Instruments::default());
    steady(&mut picture, 0..100);
    picture.tick(secs(100 + 5 * 86_400));
    steady(&mut picture, 500_000..500_100);
    assert!(picture.wind(secs(500_100)).mean_1min_kn.is_some());
    picture.tick(Timestamp::from_millis(u64::MAX / 2));
    assert!(
        picture
            .wind(Timestamp::from_millis(u64::MAX / 2))
            .tws_kn
            .is_none()
    );
}

#[test]
fn a_second_wind_unit_takes_over_and_hands_back() {
    let mut picture = Picture::new(&Instruments::default());
    let wind_from = |picture: &mut Picture, source, rank, ms, speed| {
        let at = Timestamp::from_millis(ms);
        let reading = Reading {
            source: SourceId(source),
            rank: Rank(rank),
            at,
            heard: Heard::Value(apparent(0.0, speed)),
        };
        picture.hear(&reading, at);
    };
    for second in 0..200u64 {
        say(&mut picture, second * 1000, stw(0.0));
        // The better unit is silent from 60 to 120 s.
        if !(60..120).contains(&second) {
            wind_from(&mut picture, 1, 10, second * 1000 + 100, 20.0);
        }
        wind_from(&mut picture, 2, 20, second * 1000 + 300, 21.0);
        let what = picture.needs(secs(second));
        assert!(second < 1 || what == WindHealth::Good, "{second}: {what:?}");
    }
    let winds: std::vec::Vec<Turn> = core::iter::from_fn(|| picture.next_turn())
        .filter(|turn| matches!(turn, Turn::Source(Quantity::ApparentWind, _)))
        .collect();
    let to = |source| Turn::Source(Quantity::ApparentWind, Some(SourceId(source)));
    assert_eq!(winds, [to(1), to(2), to(1)]);
    assert!((picture.wind(secs(200)).mean_1min_kn.unwrap() - 20.0).abs() < 0.01);
    assert!(!has(&picture, Fault::Lost(Quantity::ApparentWind)));
}

#[test]
fn losing_the_apparent_wind_falls_back_on_a_true_wind_and_says_so() {
    let mut picture = Picture::new(&Instruments::default());
    for second in 0..200u64 {
        say(&mut picture, second * 1000, stw(6.5));
        if second < 100 {
            say(&mut picture, second * 1000 + 100, apparent(35.0, 20.0));
        }
        let measure = Measure::TrueWind {
            angle: BowAngle::new(50.0).unwrap(),
            speed: Knots::new(16.0).unwrap(),
        };
        say(&mut picture, second * 1000 + 200, measure);
        if second == 99 {
            let mean = picture.wind(secs(99)).mean_1min_kn.unwrap();
            assert!((mean - 15.142).abs() < 0.001, "the triangle goes first");
        }
    }
    let wind = picture.wind(secs(200));
    assert!((wind.mean_1min_kn.unwrap() - 16.0).abs() < 0.001);
    assert_eq!(wind.aws_kn, None);
    assert!(has(&picture, Fault::Lost(Quantity::ApparentWind)));
    assert!(has(&picture, Fault::TrueWindOnly));
}
