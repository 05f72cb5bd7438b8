//! A recording on its way through an engine, up to any moment.

use cringle_core::time::Timestamp;

use crate::engine::Engine;
use crate::input::Input;
use crate::replay::{Replay, Unplayable};

/// A recording with the engine that hears it again.
pub struct Player {
    /// The recording.
    pub replay: Replay,
    /// What hears it.
    pub engine: Engine,
}

/// How far a recording could be played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reached {
    /// To the moment that was asked for.
    Moment,
    /// Not to it: it lies between two runs, and the engine stands where the
    /// first has ended.
    BetweenRuns,
    /// To the recording's end, which came before it.
    End,
}

impl Player {
    /// Ready to play from the start.
    pub fn new(replay: Replay) -> Player {
        let engine = replay.engine();
        Player { replay, engine }
    }

    /// Plays all that went in up to a moment, tells each before it is played,
    /// and lets time go on to it. What the engine makes of it is only looked
    /// at: its events are let go.
    pub fn play_to(
        &mut self,
        moment: Timestamp,
        mut tell: impl FnMut(Timestamp, &Input),
    ) -> Result<Reached, Unplayable> {
        while let Some((at, input)) = self.replay.next_input()? {
            if at > moment {
                self.replay.put_back(at, input);
                if self.engine.ends_run(at).is_some() {
                    return Ok(Reached::BetweenRuns);
                }
                self.engine.tick(moment);
                self.engine.events();
                return Ok(Reached::Moment);
            }
            tell(at, &input);
            self.engine.take(at, &input);
            self.engine.events();
        }
        Ok(match self.replay.played_to() == moment {
            true => Reached::Moment,
            false => Reached::End,
        })
    }
}
