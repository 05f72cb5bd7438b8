use super::*;
use crate::angle::BowAngle;
use crate::reading::Rank;
use crate::units::Knots;

fn wind(source: u32, rank: Rank, at: u64, speed: f64) -> Reading {
    Reading {
        source: SourceId(source),
        rank,
        at: Timestamp::from_millis(at),
        heard: Heard::Value(Measure::ApparentWind {
            angle: BowAngle::new(40.0).unwrap(),
            speed: Knots::new(speed).unwrap(),
        }),
    }
}

fn invalid(source: u32, at: u64) -> Reading {
    Reading {
        heard: Heard::Invalid(Quantity::ApparentWind),
        ..wind(source, Rank::AUTOMATIC, at, 0.0)
    }
}

fn chosen(sources: &Sources) -> Option<u32> {
    sources.chosen_id(Quantity::ApparentWind).map(|s| s.0)
}

/// Runs both sources at 1 Hz for a span, `None` where one is silent.
fn run(sources: &mut Sources, seconds: core::ops::Range<u64>, speeds: [Option<f64>; 2]) {
    for second in seconds {
        sources.review(Timestamp::from_secs(second));
        for (n, speed) in speeds.iter().enumerate() {
            if let Some(speed) = speed {
                let rank = Rank(100 + n as u8);
                sources.hear(&wind(n as u32, rank, second * 1000 + 100, *speed));
            }
        }
    }
}

#[test]
fn a_silent_source_hands_over_and_comes_back_only_when_steady() {
    let mut sources = Sources::default();
    run(&mut sources, 0..20, [Some(12.0), Some(12.5)]);
    assert_eq!(chosen(&sources), Some(0));
    // 1 Hz: trusted for three periods and 3 s, last heard at 19.1 s.
    run(&mut sources, 20..26, [None, Some(12.5)]);
    assert_eq!(chosen(&sources), Some(0));
    run(&mut sources, 26..28, [None, Some(12.5)]);
    assert_eq!(chosen(&sources), Some(1));
    run(&mut sources, 28..37, [Some(12.0), Some(12.5)]);
    assert_eq!(chosen(&sources), Some(1), "not yet steady");
    run(&mut sources, 37..42, [Some(12.0), Some(12.5)]);
    assert_eq!(chosen(&sources), Some(0));
}

#[test]
fn a_source_that_stutters_is_not_gone_back_to() {
    let mut sources = Sources::default();
    run(&mut sources, 0..20, [Some(12.0), Some(12.5)]);
    let mut hand_overs = 0;
    for round in 0..20 {
        let start = 20 + round * 17;
        let before = chosen(&sources);
        run(&mut sources, start..start + 8, [None, Some(12.5)]);
        run(
            &mut sources,
            start + 8..start + 17,
            [Some(12.0), Some(12.5)],
        );
        hand_overs += u32::from(chosen(&sources) != before);
    }
    assert_eq!(hand_overs, 1);
}

#[test]
fn the_third_invalid_in_a_row_hands_over_at_once() {
    let mut sources = Sources::default();
    run(&mut sources, 0..20, [Some(12.0), Some(12.5)]);
    sources.hear(&invalid(0, 20_000));
    sources.hear(&invalid(0, 20_100));
    assert_eq!(chosen(&sources), Some(0));
    let turn = sources.hear(&invalid(0, 20_200));
    assert_eq!(turn.and_then(|t| t.to), Some(SourceId(1)));
}

#[test]
fn a_six_second_sensor_does_not_flap_and_a_quick_one_is_not_trusted_long() {
    for (period, trusted, doubted) in [(6_000, 21_000, 21_100), (100, 3_300, 3_400)] {
        let mut sources = Sources::default();
        for n in 0..20 {
            assert!(
                n == 0
                    || sources
                        .live(Quantity::ApparentWind, at(n * period))
                        .is_some()
            );
            sources.hear(&wind(1, Rank::AUTOMATIC, n * period, 15.0));
        }
        let last = 19 * period;
        assert!(
            sources
                .live(Quantity::ApparentWind, at(last + trusted))
                .is_some()
        );
        assert!(
            sources
                .live(Quantity::ApparentWind, at(last + doubted))
                .is_none()
        );
    }
}

#[test]
fn an_uneven_one_to_eighteen_second_sensor_is_never_lost() {
    let gaps = [1, 9, 18, 2, 10, 9, 1, 16, 8, 10, 3, 18, 1, 9, 12, 17];
    let mut sources = Sources::default();
    let mut now = 0;
    for (n, gap) in gaps.iter().cycle().take(200).enumerate() {
        now += gap * 1000;
        let live = sources.live(Quantity::ApparentWind, at(now)).is_some();
        assert!(live || n < 4, "lost at {now}");
        sources.hear(&wind(1, Rank::AUTOMATIC, now, 15.0));
    }
}

#[test]
fn no_source_is_trusted_past_the_bound() {
    let mut sources = Sources::default();
    for n in 0..20 {
        sources.hear(&wind(1, Rank::AUTOMATIC, n * 25_000, 15.0));
    }
    let last = 19 * 25_000;
    assert!(
        sources
            .live(Quantity::ApparentWind, at(last + 30_000))
            .is_some()
    );
    assert!(
        sources
            .live(Quantity::ApparentWind, at(last + 30_100))
            .is_none()
    );
}

#[test]
fn two_sources_that_stay_apart_are_disputed_and_a_moment_apart_is_not() {
    let mut sources = Sources::default();
    run(&mut sources, 0..60, [Some(12.0), Some(14.0)]);
    assert!(!sources.is_disputed(Quantity::ApparentWind));
    run(&mut sources, 60..70, [Some(12.0), Some(19.0)]);
    assert!(!sources.is_disputed(Quantity::ApparentWind));
    run(&mut sources, 70..90, [Some(12.0), Some(19.0)]);
    assert!(sources.is_disputed(Quantity::ApparentWind));
    run(&mut sources, 90..115, [Some(12.0), Some(12.5)]);
    assert!(sources.is_disputed(Quantity::ApparentWind), "not yet sure");
    run(&mut sources, 115..123, [Some(12.0), Some(12.5)]);
    assert!(!sources.is_disputed(Quantity::ApparentWind));
}

#[test]
fn at_equal_rank_the_quicker_source_is_used_once_it_is_known() {
    let mut sources = Sources::default();
    for tenth in 0..300u64 {
        let now = tenth * 100;
        if tenth % 10 == 0 {
            sources.review(at(now));
            sources.hear(&wind(1, Rank::AUTOMATIC, now, 12.0));
        }
        sources.hear(&wind(2, Rank::AUTOMATIC, now + 1, 12.0));
    }
    assert_eq!(chosen(&sources), Some(2));
}

#[test]
fn more_sources_than_there_is_room_for_push_out_the_longest_silent() {
    let mut sources = Sources::default();
    for n in 0..200u32 {
        sources.review(at(u64::from(n) * 1000));
        sources.hear(&wind(n, Rank::AUTOMATIC, u64::from(n) * 1000, 12.0));
    }
    assert_eq!(sources.slots().count(), MAX_SLOTS);
    assert!(sources.live(Quantity::ApparentWind, at(199_000)).is_some());
}

fn at(millis: u64) -> Timestamp {
    Timestamp::from_millis(millis)
}
