//! What goes wrong on a day, and when: decided by the seed as well.

use super::day::{DAY, rmc};
use super::disk::Trouble;
use super::luck::Luck;

/// Kinds of things that go wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// The wind instrument says nothing.
    Silence,
    /// The port is lost.
    Unplugged,
    /// A line in three is damaged.
    Noise,
    /// Each line comes three times, with junk between.
    Flood,
    /// The satellite receiver names another day.
    WrongClock,
    /// The disk refuses.
    Disk(Trouble),
    /// The disk does not answer.
    Hung,
    /// All files are deleted.
    Deleted,
    /// The program is killed.
    Killed,
    /// The power goes.
    PowerCut,
}

/// One thing that goes wrong, from one second to another.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Mishap {
    pub(crate) kind: Kind,
    pub(crate) from: u64,
    pub(crate) until: u64,
}

impl Mishap {
    pub(crate) fn is_on(&self, second: u64) -> bool {
        (self.from..self.until).contains(&second)
    }

    /// Whether what the instruments say does not come through, wholly or in part.
    pub(crate) fn blinds(&self) -> bool {
        match self.kind {
            Kind::Silence | Kind::Unplugged | Kind::Noise | Kind::Killed | Kind::PowerCut => true,
            Kind::Flood | Kind::WrongClock | Kind::Disk(_) | Kind::Hung | Kind::Deleted => false,
        }
    }

    /// Whether screens must say it.
    pub(crate) fn must_show(&self) -> bool {
        match self.kind {
            Kind::Silence | Kind::Unplugged | Kind::Disk(_) | Kind::Hung | Kind::Deleted => true,
            Kind::Noise | Kind::Flood | Kind::WrongClock | Kind::Killed | Kind::PowerCut => false,
        }
    }
}

const KINDS: [Kind; 12] = [
    Kind::Silence,
    Kind::Unplugged,
    Kind::Noise,
    Kind::Flood,
    Kind::WrongClock,
    Kind::Disk(Trouble::Full),
    Kind::Disk(Trouble::ReadOnly),
    Kind::Disk(Trouble::Failing),
    Kind::Hung,
    Kind::Deleted,
    Kind::Killed,
    Kind::PowerCut,
];

/// The mishaps of a seed, one after the other.
pub(crate) fn mishaps(seed: u64) -> Vec<Mishap> {
    let mut luck = Luck::new(seed ^ 0x6d69_7368_6170);
    let mut all = Vec::new();
    let mut from = 1800 + luck.below(7200);
    while from + 3600 < DAY {
        let kind = KINDS[luck.below(KINDS.len() as u64) as usize];
        let lasts = match kind {
            Kind::Killed | Kind::PowerCut => 5 + luck.below(90),
            Kind::Deleted => 1,
            _ => 30 + luck.below(1200),
        };
        all.push(Mishap {
            kind,
            from,
            until: from + lasts,
        });
        from += lasts + 1200 + luck.below(9000);
    }
    all
}

/// What comes through of the lines of one second.
pub(crate) fn through(
    lines: Vec<String>,
    now: &[Mishap],
    second: u64,
    luck: &mut Luck,
) -> Vec<Vec<u8>> {
    let mut bytes: Vec<Vec<u8>> = lines.into_iter().map(String::into_bytes).collect();
    for mishap in now {
        match mishap.kind {
            Kind::Silence => bytes.retain(|line| !line.starts_with(b"$WIMWV")),
            Kind::Unplugged => bytes.clear(),
            Kind::Noise => {
                for line in &mut bytes {
                    if luck.one_in(3) {
                        let place = luck.below(line.len() as u64) as usize;
                        line[place] ^= 1 << luck.below(8);
                    }
                }
            }
            Kind::Flood => {
                let junk = vec![b'$'; 1 + luck.below(80) as usize];
                bytes = bytes
                    .into_iter()
                    .flat_map(|line| [line.clone(), junk.clone(), line.clone(), line])
                    .collect();
            }
            Kind::WrongClock => bytes.push(rmc(second, 13 + luck.below(15)).into_bytes()),
            Kind::Disk(_) | Kind::Hung | Kind::Deleted | Kind::Killed | Kind::PowerCut => {}
        }
    }
    bytes
}
