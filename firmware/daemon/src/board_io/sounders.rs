//! What sounds, and the beacon: the moment's wishes, played on time.

use std::time::Duration;

use cringle_boards::board::SounderName;
use cringle_boards::sound::{Horn, Level};
use cringle_core::event::Priority;
use cringle_core::time::Timestamp;
use cringle_core::view::View;
use cringle_screen::sound::{Beacon, Place, Player, beacon};

use super::Wall;
use super::faults::Faults;
use super::moment::{Latest, Moment};

/// The longest sleep: faults are tried again, self-checks come due.
const LONGEST_SLEEP: Duration = Duration::from_secs(1);
/// How often the beacon is looked at while a call stands.
const LAMP_LOOK: Duration = Duration::from_millis(100);
/// A loop that has handed over nothing for so long has hung: nobody else is
/// left to say so.
const HUNG: Duration = Duration::from_secs(10);

/// All sounders of the board.
pub(super) struct Sounders {
    voices: Vec<Voice>,
    faults: Faults,
}

struct Voice {
    name: SounderName,
    /// None for the beacon, which has its own rhythm.
    player: Option<Player>,
    horn: Horn,
}

impl Sounders {
    /// Silent, but for the first self-check.
    pub(super) fn new(horns: Vec<(SounderName, Horn)>, faults: Faults, now: Timestamp) -> Sounders {
        let voice = |(name, horn)| Voice {
            name,
            player: place(name).map(|place| Player::new(place, now)),
            horn,
        };
        Sounders {
            voices: horns.into_iter().map(voice).collect(),
            faults,
        }
    }

    /// Plays until the watch ends.
    pub(super) fn run(&mut self, latest: &Latest, wall: &Wall) -> std::io::Result<()> {
        let mut found = latest.look();
        while !found.ends {
            let next = self.play(found.moment.as_deref(), wall());
            found = latest.wait(found.number, next.since(wall()));
        }
        Ok(())
    }

    /// Drives every sounder to what is on now; gives when to come again.
    pub(super) fn play(&mut self, moment: Option<&Moment>, now: Timestamp) -> Timestamp {
        let mut next = now.after(LONGEST_SLEEP);
        let heard = moment.map(|moment| heard(moment, now));
        for voice in &mut self.voices {
            let level = match &mut voice.player {
                Some(player) => {
                    if let Some(view) = &heard {
                        player.update(view, now);
                    }
                    next = player.next_change(now).map_or(next, |at| next.min(at));
                    match player.tone(now) {
                        Some(_) => Level::On,
                        None => Level::Off,
                    }
                }
                None => {
                    next = next.min(now.after(LAMP_LOOK));
                    match heard.as_ref().map(|view| beacon(view, view.now)) {
                        Some(Beacon::Lit) => Level::On,
                        Some(Beacon::Dark) | None => Level::Off,
                    }
                }
            };
            let fault = voice.horn.drive(level, now).err();
            self.faults
                .set(voice.name.as_str(), fault.map(|fault| fault.to_string()));
        }
        next
    }
}

/// A beacon has no place to sound from.
fn place(name: SounderName) -> Option<Place> {
    match name {
        SounderName::Buzzer => Some(Place::Cockpit),
        SounderName::Bunk => Some(Place::Bunk),
        SounderName::Beacon => None,
    }
}

/// The picture as it is now; when the loop has hung under sail, with a
/// warning of that.
fn heard(moment: &Moment, now: Timestamp) -> View {
    let mut view = moment.view.clone();
    let gone = now.since(moment.at);
    view.now = view.now.after(gone);
    if gone >= HUNG && view.doing.is_under_sail() {
        let wanted = view.sounds.cockpit.max(Some(Priority::Warning));
        view.sounds.cockpit = wanted;
    }
    view
}
