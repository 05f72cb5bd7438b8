//! Published tables, row by row.

use cringle_core::angle::wrap_180;
use cringle_core::instruments::Gradient;
use cringle_core::instruments::Instruments;
use cringle_core::picture::Picture;
use cringle_core::stats::beaufort::force;
use cringle_core::stats::tendency::tendency;
use cringle_core::wind::Vector;
use cringle_core::wind::correct::{Attitude, leeway_deg, mast_velocity, upright};
use cringle_core::wind::gradient::to_ten_metres;
use cringle_core::wind::round_up::{heel_in, round_up_kn, upright_stiffness};
use cringle_core::wind::triangle::{apparent_wind, ground_wind, through_water, true_wind};
use cringle_core::wind::vector::Turn;

use crate::aboard::{pressure, say, secs};

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} for {expected}");
}

#[track_caller]
fn wind_is(found: Vector, speed: f64, angle: f64) {
    near(found.speed(), speed, 0.0006);
    near(wrap_180(found.angle_deg() - angle), 0.0, 0.0006);
}

/// AWS, AWA, STW, TWS, TWA. Worked by vectors and again by the cosine rule.
#[test]
fn the_triangle_in_all_quadrants() {
    for [aws, awa, stw, tws, twa] in [
        [20.0, 35.0, 6.5, 15.142, 49.254],
        [18.0, -45.0, 6.0, 14.397, -62.139],
        [16.0, 75.0, 7.0, 15.717, 100.480],
        [15.0, -90.0, 7.5, 16.771, -116.565],
        [14.0, 120.0, 7.0, 18.520, 139.107],
        [12.0, -150.0, 6.0, 17.456, -159.896],
        [10.0, 180.0, 6.0, 16.0, 180.0],
        [25.0, 0.0, 3.0, 22.0, 0.0],
        [4.0, 10.0, 6.0, 2.175, 161.373],
    ] {
        let boat = through_water(stw, 0.0);
        wind_is(true_wind(Vector::polar(aws, awa), boat), tws, twa);
    }
    let calm = true_wind(Vector::polar(5.0, 0.0), through_water(5.0, 0.0));
    assert!(calm.speed() < 1e-9);
}

/// TWS, TWA, STW, AWS, AWA.
#[test]
fn the_triangle_the_other_way() {
    for [tws, twa, stw, aws, awa] in [
        [20.0, 45.0, 6.5, 25.022, 34.415],
        [20.0, -90.0, 8.0, 21.541, -68.199],
        [20.0, 135.0, 8.0, 15.418, 113.476],
        [20.0, -170.0, 7.5, 12.681, -164.105],
        [30.0, 160.0, 8.5, 22.204, 152.477],
        [12.0, 180.0, 5.5, 6.5, 180.0],
    ] {
        let boat = through_water(stw, 0.0);
        wind_is(apparent_wind(Vector::polar(tws, twa), boat), aws, awa);
    }
}

/// Heel, then leeway: worked by hand and by rotation. The heel formula is
/// that of the Starpath School of Navigation's equation sheet.
#[test]
fn heel_and_leeway_by_worked_cases() {
    // AWS, AWA, STW, heel, K; level AWS and AWA; TWS and TWA with leeway.
    let cases: [[f64; 9]; 2] = [
        [20.0, 32.0, 6.4, -20.0, 10.0, 20.369, 33.623, 15.855, 48.233],
        [
            25.0, -30.0, 6.0, 25.0, 12.0, 25.671, -32.499, 21.452, -43.150,
        ],
    ];
    for [aws, awa, stw, heel, k, aws_level, awa_level, tws, twa] in cases {
        let level = upright(Vector::polar(aws, awa), heel, 0.0);
        wind_is(level, aws_level, awa_level);
        let boat = through_water(stw, leeway_deg(k, heel, stw));
        wind_is(true_wind(level, boat), tws, twa);
    }
    near(leeway_deg(10.0, -20.0, 6.4), -4.883, 0.0006);
    near(leeway_deg(12.0, 25.0, 6.0), 8.333, 0.0006);
}

/// Factor on AWS and corrected AWA, same source.
#[test]
fn the_lean_of_the_mast_by_angle() {
    for [heel, awa, factor, level] in [
        [20.0, 30.0, 1.0164, 31.567],
        [20.0, 60.0, 1.0485, 61.519],
        [20.0, 90.0, 1.0642, 90.0],
        [20.0, 120.0, 1.0485, 118.481],
        [30.0, 30.0, 1.0408, 33.690],
        [30.0, 90.0, 1.1547, 90.0],
    ] {
        let found = upright(Vector::polar(10.0, awa), heel, 0.0);
        near(found.speed() / 10.0, factor, 6e-5);
        near(found.angle_deg(), level, 6e-4);
    }
}

/// HDG 040, AWS 20 at +35, STW 6.5, current 1.5 kn towards 090.
#[test]
fn the_ground_wind_differs_by_the_current() {
    let apparent = Vector::polar(20.0, 35.0);
    let ground = Vector::polar(7.552, 48.75);
    let found = ground_wind(apparent, Turn::by(40.0), ground);
    near(found.speed(), 13.642, 0.001);
    near(found.angle_deg(), 89.17, 0.01);
    // Adrift in a calm on 2 kn of current to the east: no wind at all.
    let drifting = ground_wind(
        Vector::polar(2.0, 50.0),
        Turn::by(40.0),
        Vector::polar(2.0, 90.0),
    );
    assert!(drifting.speed() < 1e-9);
}

#[test]
fn the_masthead_of_a_rolling_boat() {
    // h = 18 m, 8 deg/s: 2.513 m/s.
    let rolling = Attitude {
        roll_rate: Some(8.0),
        ..Attitude::default()
    };
    near(mast_velocity(18.0, rolling).y, 4.89, 0.006);
    let pitching = Attitude {
        pitch_rate: Some(8.0),
        ..Attitude::default()
    };
    near(mast_velocity(18.0, pitching).x, -4.89, 0.006);
}

/// Height, log law with z0 = 0.0002 m (Davenport-Wieringa; EPA 6.6.3), power
/// law with 0.11 (Hsu et al. 1994; ISO 19901-1).
#[test]
fn the_wind_at_ten_metres() {
    for [height, log, power] in [
        [10.0, 1.0, 1.0],
        [15.0, 0.964, 0.956],
        [18.0, 0.949, 0.937],
        [22.0, 0.932, 0.917],
        [25.0, 0.922, 0.904],
    ] {
        near(
            to_ten_metres(Gradient::LogOpenSea, height).unwrap(),
            log,
            6e-4,
        );
        near(
            to_ten_metres(Gradient::Log(0.0002), height).unwrap(),
            log,
            6e-4,
        );
        near(
            to_ten_metres(Gradient::Power(0.11), height).unwrap(),
            power,
            6e-4,
        );
    }
    for absurd in [
        to_ten_metres(Gradient::LogOpenSea, 0.0),
        to_ten_metres(Gradient::Log(-1.0), 18.0),
        to_ten_metres(Gradient::Log(18.0), 18.0),
        to_ten_metres(Gradient::Power(f64::NAN), 18.0),
    ] {
        assert_eq!(absurd, None);
    }
}

/// WMO-No. 8, table 5.1, first and last whole knot of each force.
#[test]
fn beaufort_at_its_edges() {
    let rows: [(u8, f64, f64); 13] = [
        (0, 0.0, 0.4),
        (1, 1.0, 3.0),
        (2, 4.0, 6.0),
        (3, 7.0, 10.0),
        (4, 11.0, 16.0),
        (5, 17.0, 21.0),
        (6, 22.0, 27.0),
        (7, 28.0, 33.0),
        (8, 34.0, 40.0),
        (9, 41.0, 47.0),
        (10, 48.0, 55.0),
        (11, 56.0, 63.0),
        (12, 64.0, 120.0),
    ];
    for (number, first, last) in rows {
        assert_eq!(force(first), number, "{first}");
        assert_eq!(force(last), number, "{last}");
    }
}

/// Characteristic by pressure three hours ago, half-way and now: WMO code
/// table 0200, from memory.
#[test]
fn the_barometers_tendency() {
    for (then, half_way, now, code) in [
        (1010.0, 1012.0, 1011.0, 0),
        (1010.0, 1012.0, 1010.0, 0),
        (1010.0, 1012.0, 1012.0, 1),
        (1010.0, 1012.0, 1012.6, 1),
        (1010.0, 1011.0, 1012.0, 2),
        (1010.0, 1010.0, 1012.0, 3),
        (1010.0, 1009.0, 1012.0, 3),
        (1010.0, 1010.5, 1012.0, 3),
        (1010.0, 1010.0, 1010.0, 4),
        (1010.0, 1008.0, 1009.0, 5),
        (1010.0, 1008.0, 1010.0, 5),
        (1010.0, 1008.0, 1008.0, 6),
        (1010.0, 1008.0, 1007.4, 6),
        (1010.0, 1009.0, 1008.0, 7),
        (1010.0, 1010.0, 1008.0, 8),
        (1010.0, 1011.0, 1008.0, 8),
        (1010.0, 1009.5, 1008.0, 8),
    ] {
        let found = tendency(then, half_way, now);
        assert_eq!(found.code, code, "{then} {half_way} {now}");
        near(found.change_hpa, now - then, 1e-9);
    }
}

#[test]
fn three_hours_of_pressure_give_the_tendency_and_less_gives_none() {
    let mut picture = Picture::new(&Instruments::default());
    for minute in 0..=185u64 {
        let hpa = 1015.0 - 2.4 * minute as f64 / 180.0;
        say(&mut picture, minute * 60_000, pressure(hpa));
        if minute == 150 {
            assert_eq!(picture.pressure(secs(minute * 60)).wmo_code, None);
        }
    }
    let told = picture.pressure(secs(185 * 60));
    assert_eq!(told.wmo_code, Some(7));
    near(told.tendency_hpa_3h.unwrap(), -2.4, 0.05);
}

/// Coming up from a run: TWS, boat speed while running; the trade's worked
/// case gives 34.0 kn for TWS 30 at TWA 60 and 7 kn.
#[test]
fn coming_up_shows_the_wind_that_running_hides() {
    near(round_up_kn(30.0, 7.0 / 0.85), 34.0, 0.1);
    assert!(round_up_kn(22.0, 8.0) > 1.7 * 14.4);
}

/// Worked yacht, heel by cos^1.3: 14.70 at 15 kn, 24.60 at 20, 34.75 at 25.
#[test]
fn heel_grows_as_the_square_while_the_lever_falls() {
    let stiffness = upright_stiffness(14.70, 15.0).unwrap();
    // The righting arm goes with the sine, which this leaves out.
    near(heel_in(stiffness, 20.0), 24.60, 0.6);
    near(heel_in(stiffness, 25.0), 34.75, 1.9);
    near(heel_in(stiffness, 15.0), 14.70, 1e-6);
    assert_eq!(upright_stiffness(10.0, 0.0), None);
}
