//! How near the corrected wind comes to the true one aboard a boat that
//! heels 25 degrees and rolls 12 either way, on each point of sail, and what
//! each correction does.

use std::fmt::Write as _;

use cringle_core::angle::wrap_180;
use cringle_core::instruments::{Factor, Instruments, Switch};
use cringle_core::picture::Picture;
use cringle_core::units::{Degrees, Knots, Metres};

use crate::aboard::{apparent, compass, heel, pitch, rounded, say, stw};
use crate::physics::{Air, Dice, MAST_M, Sailing, Wind};

/// Minutes sailed; the first is left out while things settle.
const MINUTES: u64 = 21;

const VARIATION: f64 = -4.0;

/// What is wrong with the instruments aboard.
#[derive(Clone, Copy)]
struct Lies {
    /// The vane is fitted turned by this.
    vane: f64,
    /// The cups read this much of the wind.
    cups: f64,
    /// The log reads this much of the speed.
    log: f64,
    /// Upwash close-hauled; falls to nothing abaft.
    upwash: f64,
    /// The wind unit averages over this many seconds.
    damping_s: f64,
    /// Times per second that wind and heel come.
    hertz: u64,
}

impl Lies {
    fn usual(hertz: u64) -> Self {
        Lies {
            vane: 3.0,
            cups: 0.94,
            log: 0.92,
            upwash: 4.0,
            damping_s: 0.0,
            hertz,
        }
    }
}

/// The compass is off by a sine of the heading, as a soft ship's is.
fn deviation(magnetic: f64) -> f64 {
    3.0 * (magnetic + 20.0).to_radians().sin()
}

fn upwash(lies: &Lies, off_bow: f64) -> f64 {
    lies.upwash * (1.0 + off_bow.to_radians().cos()) / 2.0
}

fn degrees(value: f64) -> Degrees {
    Degrees::new(value).unwrap()
}

/// What a careful fitter would have put in the boat file.
fn fitted() -> Instruments {
    let mut instruments = Instruments {
        vane_offset: degrees(-3.0),
        anemometer_factor: Factor(1.0 / 0.94),
        heel_correction: Switch::On,
        mast_motion: Some(Metres::new(MAST_M).unwrap()),
        leeway_k: Some(12.0),
        log_factor: Factor(1.0 / 0.92),
        variation: Some(degrees(VARIATION)),
        masthead_height: Some(Metres::new(MAST_M).unwrap()),
        ..Instruments::default()
    };
    for (off_bow, by) in [
        (20.0, 3.9),
        (50.0, 3.3),
        (90.0, 2.0),
        (130.0, 0.7),
        (180.0, 0.0),
    ] {
        instruments
            .upwash_table
            .push((degrees(off_bow), degrees(by)))
            .unwrap();
    }
    for eighth in 0..8 {
        let heading = f64::from(eighth) * 45.0;
        instruments
            .deviation_table
            .push((degrees(heading), degrees(deviation(heading))))
            .unwrap();
    }
    instruments
}

/// Root mean square of the 1-minute means' errors, and their mean.
#[derive(Clone, Copy)]
struct Errors {
    tws_rms: f64,
    twd_rms: f64,
    tws_mean: f64,
    twd_mean: f64,
    /// Greatest 3-second gust as told, over the true one.
    gust_ratio: f64,
}

/// True wind by the minute, straight from the air itself.
#[derive(Default, Clone, Copy)]
struct Truth {
    speed: f64,
    north: f64,
    east: f64,
    count: f64,
}

/// The wind comes from here.
const FROM: f64 = 10.0;

/// TWA about -50, heeled 25 to starboard.
const CLOSE_HAULED: Sailing = Sailing {
    heel: 25.0,
    roll: (12.0, 7.0),
    pitch: (2.5, 4.3),
    heading: 60.0,
    stw: 6.0,
};

fn sail(lies: &Lies, instruments: &Instruments) -> Errors {
    sail_boat(&CLOSE_HAULED, lies, instruments)
}

fn sail_boat(boat: &Sailing, lies: &Lies, instruments: &Instruments) -> Errors {
    let mut air = Air::new(Wind {
        speed: 20.0,
        from: FROM,
    });
    let mut dice = Dice::new(7);
    let mut picture = Picture::new(instruments);
    let mut truth = vec![Truth::default(); MINUTES as usize];
    let mut speeds: Vec<f64> = Vec::new();
    let mut damped: Option<(f64, f64)> = None;
    let every = 10 / lies.hertz;
    for tenth in 0..MINUTES * 600 {
        let t = tenth as f64 / 10.0;
        let wind = air.step(&mut dice);
        let minute = &mut truth[(tenth / 600) as usize];
        minute.speed += wind.speed;
        minute.north += wind.from.to_radians().cos();
        minute.east += wind.from.to_radians().sin();
        minute.count += 1.0;
        speeds.push(wind.speed);
        let (awa, aws) = boat.felt(t, wind);
        let felt = damp(&mut damped, (awa, aws), lies.damping_s);
        let ms = tenth * 100;
        if tenth % every == 0 {
            let off_bow = felt.0;
            let vane = off_bow + off_bow.signum() * upwash(lies, off_bow) + lies.vane;
            let angle = rounded(vane + 1.0 * dice.normal(), 1.0);
            let speed = rounded(felt.1 * lies.cups + 0.2 * dice.normal(), 0.1);
            say(&mut picture, ms + 20, apparent(angle, speed));
            let leaned = boat.heel_at(t + 0.04) + 0.2 * dice.normal();
            say(&mut picture, ms + 40, heel(rounded(leaned, 0.1)));
            let pitched = boat.pitch_at(t + 0.04) + 0.2 * dice.normal();
            say(&mut picture, ms + 40, pitch(rounded(pitched, 0.1)));
        }
        if tenth % 10 == 3 {
            let speed = boat.stw_at(t) * lies.log + 0.05 * dice.normal();
            say(&mut picture, ms, stw(rounded(speed, 0.01)));
        }
        if tenth % 2 == 1 {
            let magnetic = boat.heading_at(t) - VARIATION;
            let shown = magnetic - deviation(magnetic) + 0.3 * dice.normal();
            say(&mut picture, ms, compass(rounded(shown, 0.1)));
        }
    }
    let end = crate::aboard::secs(MINUTES * 60 + 5);
    picture.tick(end);
    // A rolling boat in gusts is no spike.
    assert!(picture.wind(end).gated <= 2, "{}", picture.wind(end).gated);
    compare(&mut picture, &truth, &speeds)
}

/// A unit that averages inside: a vector that follows with a time constant.
fn damp(state: &mut Option<(f64, f64)>, (angle, speed): (f64, f64), seconds: f64) -> (f64, f64) {
    let (sin, cos) = angle.to_radians().sin_cos();
    let fresh = (speed * cos, speed * sin);
    let follow = if seconds > 0.0 {
        1.0 - (-0.1 / seconds).exp()
    } else {
        1.0
    };
    let old = state.unwrap_or(fresh);
    let now = (
        old.0 + follow * (fresh.0 - old.0),
        old.1 + follow * (fresh.1 - old.1),
    );
    *state = Some(now);
    (now.1.atan2(now.0).to_degrees(), now.0.hypot(now.1))
}

fn compare(picture: &mut Picture, truth: &[Truth], speeds: &[f64]) -> Errors {
    let (mut n, mut gust) = (0.0, 0.0f64);
    let mut sums = [0.0; 4];
    while let Some(minute) = picture.next_minute() {
        let place = (minute.start.as_millis() / 60_000) as usize;
        let Some(real) = truth.get(place).filter(|_| place > 0) else {
            continue;
        };
        let tws = f64::from(minute.mean_kn.expect("measured")) - real.speed / real.count;
        let from = real.east.atan2(real.north).to_degrees();
        let twd = wrap_180(f64::from(minute.twd_deg.expect("measured")) - from);
        for (sum, value) in sums.iter_mut().zip([tws * tws, twd * twd, tws, twd]) {
            *sum += value;
        }
        gust = gust.max(f64::from(minute.gust_kn.expect("measured")));
        n += 1.0;
    }
    assert_eq!(n as u64, MINUTES - 1);
    let real_gust = speeds[600..]
        .chunks(10)
        .map(|second| second.iter().sum::<f64>() / 10.0)
        .collect::<Vec<_>>()
        .windows(3)
        .map(|three| three.iter().sum::<f64>() / 3.0)
        .fold(0.0, f64::max);
    Errors {
        tws_rms: (sums[0] / n).sqrt(),
        twd_rms: (sums[1] / n).sqrt(),
        tws_mean: sums[2] / n,
        twd_mean: sums[3] / n,
        gust_ratio: gust / real_gust,
    }
}

type Without = (&'static str, fn(&mut Instruments));

/// An error, and how to plant it.
type Planted = (&'static str, fn(&mut Lies, &mut Instruments));

/// Each correction, and how to leave it out.
const CORRECTIONS: [Without; 9] = [
    ("vane offset", |i| i.vane_offset = degrees(0.0)),
    ("anemometer factor", |i| i.anemometer_factor = Factor(1.0)),
    ("upwash", |i| i.upwash_table.clear()),
    ("heel and pitch", |i| i.heel_correction = Switch::Off),
    ("mast motion", |i| i.mast_motion = None),
    ("leeway", |i| i.leeway_k = None),
    ("log factor", |i| i.log_factor = Factor(1.0)),
    ("deviation", |i| i.deviation_table.clear()),
    ("variation", |i| i.variation = Some(degrees(0.0))),
];

fn row(table: &mut String, name: &str, errors: &[Errors]) {
    let _ = write!(table, "{name:<26}");
    for e in errors {
        let _ = write!(
            table,
            " | {:>5.2} {:>6.2} {:>6.2} {:>6.2} {:>5.2}",
            e.tws_rms, e.tws_mean, e.twd_rms, e.twd_mean, e.gust_ratio
        );
    }
    table.push('\n');
}

fn heading_rows(table: &mut String, first: &str) {
    let columns = "  TWS   mean    TWD   mean  gust";
    let _ = writeln!(table, "{first:<26} | {:<31} | 10 Hz", "1 Hz");
    let _ = writeln!(table, "{:<26} | {} | {}", "", &columns[1..], &columns[1..]);
}

/// Compares with the stored table, number by number: the last digit may
/// differ where a machine's sine does.
fn check_stored(name: &str, table: &str) {
    println!("{table}");
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("reference/wind")
        .join(name);
    if std::env::var_os("CRINGLE_WRITE_TABLES").is_some() {
        std::fs::write(&path, table).unwrap();
    }
    let stored = std::fs::read_to_string(&path).unwrap();
    assert_eq!(stored.lines().count(), table.lines().count(), "{name}");
    for (stored, fresh) in stored.lines().zip(table.lines()) {
        for (a, b) in stored.split_whitespace().zip(fresh.split_whitespace()) {
            match (a.parse::<f64>(), b.parse::<f64>()) {
                (Ok(a), Ok(b)) => assert!((a - b).abs() < 0.025, "{stored}\n{fresh}"),
                _ => assert_eq!(a, b, "{stored}\n{fresh}"),
            }
        }
    }
}

#[test]
fn each_correction_earns_its_place() {
    let mut table = String::from(
        "1-minute means: RMS and mean error of TWS (kn) and TWD (deg), and the\n\
         greatest 3 s gust over the true one. TWS 20 kn, TWA about -50, heel 25\n\
         rolling 12 either way in 7 s, STW 6 kn.\n\n",
    );
    heading_rows(&mut table, "left out");
    let rates = [1, 10].map(Lies::usual);
    let all = rates.map(|lies| sail(&lies, &fitted()));
    row(&mut table, "nothing", &all);
    for errors in &all {
        assert!(errors.tws_rms < 0.3, "TWS {}", errors.tws_rms);
        assert!(errors.twd_rms < 2.0, "TWD {}", errors.twd_rms);
    }
    for (name, leave_out) in CORRECTIONS {
        let mut instruments = fitted();
        leave_out(&mut instruments);
        let without = rates.map(|lies| sail(&lies, &instruments));
        row(&mut table, name, &without);
        for (without, with) in without.iter().zip(&all) {
            assert!(
                without.tws_rms > 1.3 * with.tws_rms || without.twd_rms > 1.3 * with.twd_rms,
                "{name} does nothing"
            );
        }
    }
    let none = rates.map(|lies| sail(&lies, &Instruments::default()));
    row(&mut table, "everything", &none);
    check_stored("contributions.txt", &table);
}

#[test]
fn it_holds_on_every_point_of_sail() {
    let mut table = String::from(
        "1-minute means by point of sail, all corrected. TWS 20 kn; rolling 12 either\n\
         way in 7 s everywhere. On port tack she heels to starboard.\n\n",
    );
    heading_rows(&mut table, "point of sail");
    for (name, twa, heel, stw) in [
        ("close-hauled, port", -50.0, 25.0, 6.0),
        ("close-hauled, starboard", 50.0, -25.0, 6.0),
        ("beam reach, port", -90.0, 25.0, 7.5),
        ("beam reach, starboard", 90.0, -20.0, 7.5),
        ("broad reach, port", -135.0, 10.0, 7.5),
        ("run, starboard", 170.0, -3.0, 7.0),
        ("run, dead", 180.0, 0.0, 7.0),
    ] {
        let boat = Sailing {
            heading: (FROM - twa).rem_euclid(360.0),
            heel,
            stw,
            ..CLOSE_HAULED
        };
        let errors = [1, 10].map(|hertz| sail_boat(&boat, &Lies::usual(hertz), &fitted()));
        row(&mut table, name, &errors);
        for e in errors {
            assert!(e.tws_rms < 0.3, "{name}: TWS {}", e.tws_rms);
            assert!(e.twd_rms < 2.0, "{name}: TWD {}", e.twd_rms);
        }
    }
    check_stored("points.txt", &table);
}

#[test]
fn planted_errors_leave_this_much_over() {
    let mut table =
        String::from("The same, with everything corrected but for one planted error.\n\n");
    heading_rows(&mut table, "planted");
    let cases: [Planted; 9] = [
        ("vane 2 deg more", |l, _| l.vane += 2.0),
        ("upwash 3 deg more", |l, _| l.upwash += 3.0),
        ("leeway K +50 %", |_, i| i.leeway_k = Some(18.0)),
        ("log 5 % low", |l, _| l.log *= 0.95),
        ("cups 5 % low", |l, _| l.cups *= 0.95),
        ("unit damped 2 s", |l, _| l.damping_s = 2.0),
        ("unit damped 5 s", |l, _| l.damping_s = 5.0),
        ("unit damped 2 s, told", |l, i| {
            l.damping_s = 2.0;
            i.wind_damping_s = Some(2.0);
        }),
        ("unit damped 5 s, told", |l, i| {
            l.damping_s = 5.0;
            i.wind_damping_s = Some(5.0);
        }),
    ];
    for (name, plant) in cases {
        let errors = [1, 10].map(|hertz| {
            let mut lies = Lies::usual(hertz);
            let mut instruments = fitted();
            plant(&mut lies, &mut instruments);
            sail(&lies, &instruments)
        });
        row(&mut table, name, &errors);
        for e in errors {
            assert!(e.tws_rms < 3.0 && e.twd_rms < 8.0, "{name}");
            if name.ends_with("told") {
                // The mast's swing is undone as the unit shows it; what the
                // gusts have lost stays lost.
                assert!(e.tws_rms < 0.3 && e.twd_rms < 2.0, "{name}");
                assert!(e.gust_ratio <= 1.03, "{name}: {}", e.gust_ratio);
            }
        }
    }
    check_stored("planted.txt", &table);
}

#[test]
fn what_is_undone_is_listed_and_only_while_its_sensor_speaks() {
    let mut picture = Picture::new(&fitted());
    for second in 0..20 {
        say(&mut picture, second * 1000, compass(60.0));
        say(&mut picture, second * 1000, stw(6.0));
        say(&mut picture, second * 1000, heel(20.0));
        say(&mut picture, second * 1000, apparent(-35.0, 20.0));
    }
    let names = |picture: &Picture, second| -> Vec<&'static str> {
        let undone = picture.corrections_applied(crate::aboard::secs(second));
        undone.iter().map(|undone| undone.what.name()).collect()
    };
    let all = [
        "vane offset",
        "anemometer",
        "upwash",
        "heel",
        "mast motion",
        "leeway",
        "log",
        "deviation",
        "variation",
    ];
    assert_eq!(names(&picture, 20), all);
    assert_sizes(&picture);
    for second in 20..40 {
        say(&mut picture, second * 1000, compass(60.0));
        say(&mut picture, second * 1000, stw(6.0));
        say(&mut picture, second * 1000, apparent(-35.0, 20.0));
    }
    let without_heel: Vec<_> = all
        .into_iter()
        .filter(|name| !["heel", "mast motion", "leeway"].contains(name))
        .collect();
    assert_eq!(names(&picture, 40), without_heel);
}

/// AWA -35, AWS 20.0, heel 20, STW 6 on the compass's 60, each worked by hand.
fn assert_sizes(picture: &Picture) {
    let undone = picture.corrections_applied(crate::aboard::secs(20));
    let size = |name| {
        let of = undone.iter().find(|undone| undone.what.name() == name);
        of.map(|undone| (undone.angle_deg, undone.speed_kn))
            .unwrap()
    };
    let near = |name, angle: Option<f64>, speed: Option<f64>| {
        let (a, s) = size(name);
        let close = |found: Option<f64>, expected: Option<f64>| match (found, expected) {
            (Some(found), Some(expected)) => (found - expected).abs() < 0.005,
            (found, expected) => found.is_none() && expected.is_none(),
        };
        assert!(close(a, angle) && close(s, speed), "{name}: {a:?} {s:?}");
    };
    near("vane offset", Some(-3.0), None);
    // 20 / 0.94 = 21.277.
    near("anemometer", None, Some(1.277));
    // At 38 off, 3.9 - 0.6 * 18/30 = 3.54, towards the bow on port.
    near("upwash", Some(3.54), None);
    // 21.277 at -34.46: x 17.544, y -12.039; y / cos 20 = -12.812:
    // -36.14 at 21.723.
    near("heel", Some(-1.68), Some(0.447));
    near("mast motion", None, Some(0.0));
    // 12 * 20 / 6.522^2 = 5.643, to starboard as the starboard side is down.
    near("leeway", Some(5.643), None);
    // 6 / 0.92 = 6.522.
    near("log", None, Some(0.522));
    // By straight lines between 45 (3 sin 65) and 90 (3 sin 110).
    near("deviation", Some(2.752), None);
    near("variation", Some(-4.0), None);
    let words: Vec<String> = undone.iter().map(ToString::to_string).collect();
    assert_eq!(words[3], "heel -1.7 deg +0.4 kn");
    assert_eq!(words[4], "mast motion 0.0 kn rms");
}

#[test]
fn a_table_for_the_cups_does_what_a_factor_does() {
    let lies = Lies::usual(1);
    let mut by_table = fitted();
    by_table.anemometer_factor = Factor(1.0);
    for true_kn in [10.0, 40.0] {
        let entry = (
            Knots::new(true_kn * 0.94).unwrap(),
            Knots::new(true_kn).unwrap(),
        );
        by_table.anemometer_table.push(entry).unwrap();
    }
    let (a, b) = (sail(&lies, &fitted()), sail(&lies, &by_table));
    assert!((a.tws_rms - b.tws_rms).abs() < 1e-6);
}
