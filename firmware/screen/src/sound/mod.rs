//! Sound and beacon as pure data: what is on at a given moment.
//!
//! The core's alert decides who sounds (`View.sounds`); a [`Player`] for each
//! sounder turns that into on and off. The driver asks again no later than
//! [`Player::next_change`].

pub mod timing;

use cringle_core::event::Priority;
use cringle_core::time::Timestamp;
use cringle_core::view::{AlertState, View};
use timing::{Beep, Loudness, Pattern};

/// Where a sounder is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// At the wheel.
    Cockpit,
    /// At the bunk.
    Bunk,
}

impl Place {
    /// What sounds there for a priority; a caution is silent.
    pub const fn pattern(self, priority: Priority) -> Option<&'static Pattern> {
        match (self, priority) {
            (_, Priority::Caution) => None,
            (Place::Cockpit, Priority::Warning) => Some(&timing::COCKPIT_WARNING),
            (Place::Cockpit, Priority::Alarm) => Some(&timing::COCKPIT_ALARM),
            (Place::Bunk, Priority::Warning) => Some(&timing::BUNK_WARNING),
            (Place::Bunk, Priority::Alarm) => Some(&timing::BUNK_ALARM),
        }
    }

    fn wanted(self, view: &View) -> Option<Priority> {
        match self {
            Place::Cockpit => view.sounds.cockpit,
            Place::Bunk => view.sounds.bunk,
        }
    }
}

/// A tone that is on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Tone {
    /// Pitch.
    pub hertz: u16,
    /// Loudness.
    pub loudness: Loudness,
}

/// Plays one sounder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Player {
    place: Place,
    playing: Option<Playing>,
    checked: Timestamp,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Playing {
    pattern: &'static Pattern,
    since: Timestamp,
}

impl Player {
    /// Silent, with the first self-check due at once: a sounder that is dead
    /// at the dock is better known there.
    pub const fn new(place: Place, now: Timestamp) -> Player {
        Player {
            place,
            playing: Some(Playing {
                pattern: &timing::SELF_CHECK,
                since: now,
            }),
            checked: now,
        }
    }

    /// Takes what the core wants to sound. A change of priority starts its
    /// pattern from the beginning; the same one carries on.
    pub fn update(&mut self, view: &View, now: Timestamp) {
        let wanted = self
            .place
            .wanted(view)
            .and_then(|priority| self.place.pattern(priority));
        let running = self.playing.map(|playing| playing.pattern);
        match wanted {
            Some(pattern) if running != Some(pattern) => self.start(pattern, now),
            Some(_) => {}
            None if running == Some(&timing::SELF_CHECK) => {
                if self.next_change(now).is_none() {
                    self.playing = None;
                }
            }
            None => self.playing = None,
        }
        let due = now.since(self.checked).as_millis() >= u128::from(timing::SELF_CHECK_EVERY_MS);
        if due {
            // A real call has just proved the sounder as well as any check.
            self.checked = now;
            if wanted.is_none() {
                self.start(&timing::SELF_CHECK, now);
            }
        }
    }

    /// What is on at this moment.
    pub fn tone(&self, now: Timestamp) -> Option<Tone> {
        let playing = self.playing?;
        let (is_on, _) = playing.at(now);
        is_on.then_some(Tone {
            hertz: playing.pattern.hertz,
            loudness: playing.pattern.loudness,
        })
    }

    /// When [`Player::tone`] next changes, if it does by itself.
    pub fn next_change(&self, now: Timestamp) -> Option<Timestamp> {
        let (_, left_ms) = self.playing?.at(now);
        Some(now.after(core::time::Duration::from_millis(u64::from(left_ms?))))
    }

    fn start(&mut self, pattern: &'static Pattern, now: Timestamp) {
        self.playing = Some(Playing {
            pattern,
            since: now,
        });
    }
}

impl Playing {
    /// Whether it is on, and how many milliseconds until that changes.
    fn at(&self, now: Timestamp) -> (bool, Option<u32>) {
        let since = now.since(self.since).as_millis() as u64;
        let mut rest = match self.pattern.repeat_ms {
            Some(repeat) => since % u64::from(repeat.max(1)),
            None => since,
        };
        let into_round = rest;
        for beep in self.pattern.beeps {
            let (on, off) = (u64::from(beep.on_ms), u64::from(beep.off_ms));
            if rest < on {
                return (true, Some((on - rest) as u32));
            }
            rest -= on;
            if rest < off {
                return (false, Some((off - rest) as u32));
            }
            rest -= off;
        }
        let next = self.pattern.repeat_ms;
        (
            false,
            next.map(|repeat| (u64::from(repeat) - into_round) as u32),
        )
    }
}

/// The beacon: flashes while nobody has acknowledged, steady while a call stands,
/// dark otherwise.
pub fn beacon(view: &View, now: Timestamp) -> Beacon {
    let Some(priority) = view.call.call.priority() else {
        return match view.call.alert {
            AlertState::RectifiedUnacknowledged => flash(timing::LED_WARNING_FLASH, view, now),
            AlertState::Normal
            | AlertState::Unacknowledged
            | AlertState::Silenced
            | AlertState::Acknowledged => Beacon::Dark,
        };
    };
    if !view.doing.is_under_sail() {
        return Beacon::Dark;
    }
    match (view.call.alert, priority) {
        (AlertState::Normal | AlertState::Acknowledged, _) => Beacon::Lit,
        (_, Priority::Alarm) => flash(timing::LED_ALARM_FLASH, view, now),
        (_, Priority::Warning | Priority::Caution) => flash(timing::LED_WARNING_FLASH, view, now),
    }
}

/// The beacon's state.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beacon {
    /// Off.
    Dark,
    /// On.
    Lit,
}

fn flash(rhythm: Beep, view: &View, now: Timestamp) -> Beacon {
    let since = now.since(view.call.changed).as_millis() as u64;
    let round = u64::from(rhythm.on_ms + rhythm.off_ms).max(1);
    if since % round < u64::from(rhythm.on_ms) {
        Beacon::Lit
    } else {
        Beacon::Dark
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::samples;
    use cringle_core::view::Sounds;

    fn at(millis: u64) -> Timestamp {
        Timestamp::from_millis(millis)
    }

    fn sounding(cockpit: Option<Priority>) -> View {
        let mut view = samples::calm();
        view.sounds = Sounds {
            cockpit,
            bunk: None,
        };
        view
    }

    /// Beeps begun from `from`, over a span.
    fn beeps(player: &Player, from: u64, span: u64) -> usize {
        (from..from + span)
            .filter(|&ms| {
                player.tone(at(ms)).is_some() && (ms == from || player.tone(at(ms - 1)).is_none())
            })
            .count()
    }

    fn playing(priority: Priority) -> Player {
        let mut player = Player::new(Place::Cockpit, at(0));
        player.update(&sounding(Some(priority)), at(1_000));
        player
    }

    #[test]
    fn an_alarm_is_three_beeps_again_within_seven_to_ten_seconds() {
        let player = playing(Priority::Alarm);
        assert_eq!(beeps(&player, 1_000, 7_000), 3);
        let again = timing::COCKPIT_ALARM.repeat_ms.unwrap();
        assert!((7_000..=10_000).contains(&again));
        assert!(player.tone(at(1_000 + u64::from(again))).is_some());
    }

    #[test]
    fn a_warning_is_two_beeps_again_within_five_minutes_and_a_caution_silent() {
        assert_eq!(beeps(&playing(Priority::Warning), 1_000, 20_000), 2);
        assert!(timing::COCKPIT_WARNING.repeat_ms.unwrap() <= 300_000);
        assert_eq!(beeps(&playing(Priority::Caution), 1_000, 60_000), 0);
    }

    #[test]
    fn an_escalation_starts_over_and_an_answer_silences() {
        let mut player = playing(Priority::Warning);
        player.update(&sounding(Some(Priority::Alarm)), at(4_321));
        assert!(player.tone(at(4_321)).is_some());
        player.update(&sounding(None), at(4_400));
        assert_eq!(player.tone(at(4_400)), None);
        assert_eq!(player.next_change(at(4_400)), None);
    }

    #[test]
    fn the_same_priority_carries_on_without_a_stutter() {
        let mut player = playing(Priority::Alarm);
        let before = player.clone();
        player.update(&sounding(Some(Priority::Alarm)), at(3_000));
        assert_eq!(player, before);
    }

    #[test]
    fn next_change_is_the_very_moment() {
        for priority in [Priority::Warning, Priority::Alarm] {
            let player = playing(priority);
            let mut now = at(1_000);
            for _ in 0..40 {
                let next = player.next_change(now).unwrap();
                let is_on = |moment| player.tone(moment).is_some();
                assert!(next > now);
                assert!((now.as_millis()..next.as_millis()).all(|ms| is_on(at(ms)) == is_on(now)));
                now = next;
            }
        }
    }

    #[test]
    fn the_sounder_tries_itself_at_start_and_every_hour() {
        let mut player = Player::new(Place::Bunk, at(0));
        assert!(player.tone(at(10)).is_some());
        let mut heard = 0;
        for second in 1..=7_300 {
            player.update(&sounding(None), at(second * 1_000));
            heard += usize::from(player.tone(at(second * 1_000)).is_some());
        }
        assert_eq!(heard, 2);
    }

    #[test]
    fn alarm_and_bunk_differ_from_warning_in_count_pitch_and_loudness() {
        let alarm = timing::COCKPIT_ALARM;
        let warning = timing::COCKPIT_WARNING;
        assert_ne!(alarm.beeps.len(), warning.beeps.len());
        assert_ne!(alarm.hertz, warning.hertz);
        assert!(alarm.loudness > warning.loudness);
        assert_ne!(timing::BUNK_ALARM.beeps[0], alarm.beeps[0]);
        for pattern in [alarm, warning, timing::BUNK_ALARM, timing::BUNK_WARNING] {
            let length: u32 = pattern.beeps.iter().map(|b| b.on_ms + b.off_ms).sum();
            assert!(length < pattern.repeat_ms.unwrap());
            assert!((200..=2_500).contains(&pattern.hertz));
        }
    }

    #[test]
    fn a_higher_priority_sounds_for_more_of_each_minute() {
        let told = [
            timing::SELF_CHECK,
            timing::COCKPIT_WARNING,
            timing::COCKPIT_ALARM,
            timing::BUNK_WARNING,
            timing::BUNK_ALARM,
        ]
        .map(|pattern| pattern.on_ms_a_minute());
        assert_eq!(told, [30, 1_200, 4_800, 13_500, 32_400]);
        // Their readme tells the same.
        let readme = include_str!("../../README.md");
        for seconds in ["1.2 s", "4.8 s", "13.5 s", "32.4 s"] {
            assert!(readme.contains(seconds), "{seconds}");
        }
    }

    #[test]
    fn the_beacon_flashes_till_acknowledged_then_stands() {
        let lit = |view: &View| {
            (0..10_000)
                .filter(|&ms| beacon(view, at(view.now.as_millis() + ms)) == Beacon::Lit)
                .count()
        };
        assert_eq!(lit(&samples::calm()), 0);
        assert!((5_000..10_000).contains(&lit(&samples::reduce())));
        assert_eq!(lit(&samples::acknowledged()), 10_000);
        assert_eq!(lit(&samples::anchored()), 0);
        assert!((5_000..10_000).contains(&lit(&samples::went())));
    }
}
