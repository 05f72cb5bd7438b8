//! All states and all inputs of an alert, against the alert states of bridge
//! alert management (IEC 62923-1; MSC.302(87) 7.3 for the 30 s of silence).
//! Deviations and their reasons are in `DEVELOPERS.md`, "The standing call".

use core::time::Duration;

use cringle_core::call::alert::{Alert, Ids};
use cringle_core::event::Priority;
use cringle_core::time::Timestamp;
use cringle_core::view::AlertState::{
    self, Acknowledged, Normal, RectifiedUnacknowledged, Silenced, Unacknowledged,
};

const BUNK: Duration = Duration::from_secs(30);

#[derive(Clone, Copy, Debug, PartialEq)]
enum Input {
    Begin,
    Acknowledge,
    Handled,
    Silence,
    SoundAgain,
    Rectify,
    End,
    ThirtySeconds,
}

fn at(seconds: u64) -> Timestamp {
    Timestamp::from_secs(seconds)
}

fn in_state(state: AlertState) -> (Alert, Ids) {
    let mut ids = Ids::default();
    let mut alert = Alert::none(at(0));
    if state != Normal {
        alert.begin(&mut ids, at(1));
    }
    match state {
        Normal | Unacknowledged => {}
        Silenced => alert.silence(at(2)),
        Acknowledged => assert!(alert.acknowledge(at(2))),
        RectifiedUnacknowledged => alert.rectify(at(2)),
    }
    assert_eq!(alert.state, state);
    (alert, ids)
}

fn give(alert: &mut Alert, ids: &mut Ids, input: Input) {
    let now = at(10);
    match input {
        Input::Begin => alert.begin(ids, now),
        Input::Acknowledge => drop(alert.acknowledge(now)),
        Input::Handled => alert.mark_handled(now),
        Input::Silence => alert.silence(now),
        Input::SoundAgain => drop(alert.sound_again(now)),
        Input::Rectify => alert.rectify(now),
        Input::End => alert.end(now),
        Input::ThirtySeconds => alert.tick(Some(Priority::Warning), BUNK, at(40)),
    }
}

#[test]
fn every_state_meets_every_input_as_the_standard_has_it() {
    use Input::*;
    let table = [
        (
            Normal,
            [
                (Begin, Unacknowledged),
                (Acknowledge, Normal),
                (Handled, Normal),
                (Silence, Normal),
                (SoundAgain, Normal),
                (Rectify, Normal),
                (End, Normal),
                (ThirtySeconds, Normal),
            ],
        ),
        (
            Unacknowledged,
            [
                (Begin, Unacknowledged),
                (Acknowledge, Acknowledged),
                (Handled, Acknowledged),
                (Silence, Silenced),
                (SoundAgain, Unacknowledged),
                (Rectify, RectifiedUnacknowledged),
                (End, Normal),
                (ThirtySeconds, Unacknowledged),
            ],
        ),
        (
            Silenced,
            [
                (Begin, Unacknowledged),
                (Acknowledge, Acknowledged),
                (Handled, Acknowledged),
                (Silence, Silenced),
                (SoundAgain, Unacknowledged),
                (Rectify, RectifiedUnacknowledged),
                (End, Normal),
                (ThirtySeconds, Unacknowledged),
            ],
        ),
        (
            Acknowledged,
            [
                (Begin, Unacknowledged),
                (Acknowledge, Acknowledged),
                (Handled, Acknowledged),
                (Silence, Acknowledged),
                (SoundAgain, Unacknowledged),
                (Rectify, Normal),
                (End, Normal),
                (ThirtySeconds, Acknowledged),
            ],
        ),
        (
            RectifiedUnacknowledged,
            [
                (Begin, Unacknowledged),
                (Acknowledge, Normal),
                (Handled, RectifiedUnacknowledged),
                (Silence, RectifiedUnacknowledged),
                (SoundAgain, RectifiedUnacknowledged),
                (Rectify, RectifiedUnacknowledged),
                (End, Normal),
                (ThirtySeconds, RectifiedUnacknowledged),
            ],
        ),
    ];
    for (state, row) in table {
        for (input, expected) in row {
            let (mut alert, mut ids) = in_state(state);
            give(&mut alert, &mut ids, input);
            assert_eq!(alert.state, expected, "{state:?}, {input:?}");
            let sounds = alert.sounds(Some(Priority::Warning));
            assert_eq!(
                sounds.cockpit.is_some(),
                expected == Unacknowledged,
                "only an unacknowledged alert sounds: {state:?}, {input:?}"
            );
            assert_eq!(alert.id == 0, expected == Normal, "{state:?}, {input:?}");
        }
    }
}

#[test]
fn a_warning_goes_on_to_the_bunk_after_its_time_and_an_alarm_at_once() {
    let (mut alert, _) = in_state(Unacknowledged);
    alert.tick(Some(Priority::Warning), BUNK, at(30));
    assert_eq!(alert.sounds(Some(Priority::Warning)).bunk, None);
    alert.tick(Some(Priority::Warning), BUNK, at(31));
    assert!(alert.sounds(Some(Priority::Warning)).bunk.is_some());
    let (mut alert, _) = in_state(Unacknowledged);
    alert.tick(Some(Priority::Alarm), BUNK, at(2));
    assert!(alert.sounds(Some(Priority::Alarm)).bunk.is_some());
}

#[test]
fn a_silence_does_not_begin_the_bunks_time_anew() {
    let (mut alert, _) = in_state(Unacknowledged);
    for round in 0..3 {
        alert.silence(at(10 + round * 31));
        alert.tick(Some(Priority::Warning), BUNK, at(41 + round * 31));
        assert!(alert.sounds(Some(Priority::Warning)).bunk.is_some());
    }
}

#[test]
fn no_id_is_used_twice() {
    let (mut alert, mut ids) = in_state(Unacknowledged);
    let first = alert.id;
    alert.end(at(5));
    alert.begin(&mut ids, at(6));
    assert!(alert.id > first);
}
