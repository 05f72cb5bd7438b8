//! Patterns of on and off, and where a playing one stands.

use std::time::Duration;

use cringle_core::time::Timestamp;

use super::Level;

/// On for a while, then off for a while.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stage {
    /// How long it sounds.
    pub on: Duration,
    /// How long it is silent after.
    pub off: Duration,
}

/// How often a pattern plays.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Repeat {
    /// So many times.
    Times(u32),
    /// Until it is silenced.
    Forever,
}

/// Stages in a row, again and again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pattern {
    /// The stages of one round.
    pub stages: &'static [Stage],
    /// How many rounds.
    pub repeat: Repeat,
}

impl Pattern {
    fn round_ms(&self) -> u64 {
        self.stages
            .iter()
            .map(|stage| millis(stage.on) + millis(stage.off))
            .sum()
    }

    fn length_ms(&self) -> Option<u64> {
        match self.repeat {
            Repeat::Times(times) => Some(self.round_ms().saturating_mul(u64::from(times))),
            Repeat::Forever => None,
        }
    }

    /// The level so many ms after the start, and how many ms until it changes.
    /// None once it is over.
    fn at_ms(&self, elapsed: u64) -> Option<(Level, u64)> {
        let round = self.round_ms();
        if round == 0 || self.length_ms().is_some_and(|length| elapsed >= length) {
            return None;
        }
        let mut within = elapsed % round;
        for stage in self.stages {
            for (level, span) in [(Level::On, stage.on), (Level::Off, stage.off)] {
                let span = millis(span);
                if within < span {
                    return Some((level, span - within));
                }
                within -= span;
            }
        }
        None
    }
}

fn millis(span: Duration) -> u64 {
    span.as_millis() as u64
}

/// A pattern and when it began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Player {
    playing: Option<(Pattern, Timestamp)>,
}

impl Player {
    /// Plays nothing.
    pub const fn silent() -> Self {
        Player { playing: None }
    }

    /// Begins a pattern. One that already plays goes on undisturbed, so it may
    /// be asked for again and again.
    pub fn play(&mut self, pattern: Pattern, now: Timestamp) {
        let same = self.is_playing(now) && self.playing.is_some_and(|(old, _)| old == pattern);
        if !same {
            self.playing = Some((pattern, now));
        }
    }

    /// On or off now.
    pub fn level(&self, now: Timestamp) -> Level {
        self.at(now).map_or(Level::Off, |(level, _)| level)
    }

    /// Whether the pattern is not over yet.
    pub fn is_playing(&self, now: Timestamp) -> bool {
        self.at(now).is_some()
    }

    /// When the level may change next.
    pub fn next_change(&self, now: Timestamp) -> Option<Timestamp> {
        self.at(now)
            .map(|(_, left)| now.after(Duration::from_millis(left)))
            .filter(|_| !self.is_last_silence(now))
    }

    /// The silence that ends a pattern needs no waking.
    fn is_last_silence(&self, now: Timestamp) -> bool {
        let Some((pattern, since)) = self.playing else {
            return false;
        };
        match (self.at(now), pattern.length_ms()) {
            (Some((Level::Off, left)), Some(length)) => millis(now.since(since)) + left >= length,
            _ => false,
        }
    }

    fn at(&self, now: Timestamp) -> Option<(Level, u64)> {
        let (pattern, since) = self.playing?;
        pattern.at_ms(millis(now.since(since)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn ms(millis: u64) -> Duration {
        Duration::from_millis(millis)
    }

    const STAGES: &[Stage] = &[
        Stage {
            on: ms(100),
            off: ms(50),
        },
        Stage {
            on: ms(20),
            off: ms(30),
        },
    ];

    fn sounding(repeat: Repeat, end: u64) -> Vec<u64> {
        let mut player = Player::silent();
        player.play(
            Pattern {
                stages: STAGES,
                repeat,
            },
            Timestamp::ZERO,
        );
        (0..end)
            .filter(|at| player.level(Timestamp::from_millis(*at)) == Level::On)
            .collect()
    }

    #[test]
    fn stages_sound_to_the_millisecond() {
        let wanted: Vec<u64> = (0..100).chain(150..170).collect();
        assert_eq!(sounding(Repeat::Times(1), 1000), wanted);
    }

    #[test]
    fn rounds_follow_without_a_gap_and_end() {
        let wanted: Vec<u64> = (0..100)
            .chain(150..170)
            .chain(200..300)
            .chain(350..370)
            .collect();
        assert_eq!(sounding(Repeat::Times(2), 1000), wanted);
        assert_eq!(sounding(Repeat::Forever, 10_000).len(), 50 * 120);
    }

    #[test]
    fn asking_again_for_what_plays_does_not_start_it_over() {
        let pattern = Pattern {
            stages: STAGES,
            repeat: Repeat::Forever,
        };
        let mut player = Player::silent();
        player.play(pattern, Timestamp::ZERO);
        player.play(pattern, Timestamp::from_millis(120));
        assert_eq!(player.level(Timestamp::from_millis(120)), Level::Off);
    }

    #[test]
    fn an_empty_pattern_is_silent_and_asks_for_no_waking() {
        let mut player = Player::silent();
        let pattern = Pattern {
            stages: &[],
            repeat: Repeat::Forever,
        };
        player.play(pattern, Timestamp::ZERO);
        assert_eq!(player.level(Timestamp::ZERO), Level::Off);
        assert_eq!(player.next_change(Timestamp::ZERO), None);
    }
}
