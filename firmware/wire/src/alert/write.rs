//! Writes alert sentences.

use super::{
    Ack, Acn, Alc, AlertName, Alf, Alr, Arc, ENTRIES_MOST, Entry, Hbt, Standing, TimeOfDay, Words,
};
use crate::encode::{Builder, SentenceBytes, TooLong};
use crate::sentence::Talker;

/// Most characters of an alert's title, as a voyage recorder's manual has it.
pub const TITLE_MOST: usize = 16;

/// Letters of ALC before its entries: `$IIALC,01,01,07,2`.
const ALC_HEAD: usize = 17;

impl Alr {
    /// The sentence; text that does not fit is cut off.
    pub fn write(&self, talker: Talker) -> Result<SentenceBytes, TooLong> {
        let mut line = Builder::new(talker, b"ALR");
        moment(&mut line, self.at);
        line.field(format_args!("{:03}", self.number));
        line.letter(self.condition.letter());
        line.letter(self.acknowledgement.letter());
        line.words(&self.words);
        line.finish()
    }
}

impl Ack {
    /// The sentence.
    pub fn write(&self, talker: Talker) -> Result<SentenceBytes, TooLong> {
        let mut line = Builder::new(talker, b"ACK");
        line.field(format_args!("{:03}", self.number));
        line.finish()
    }
}

impl Alf {
    /// The sentence; text that does not fit is cut off.
    pub fn write(&self, talker: Talker) -> Result<SentenceBytes, TooLong> {
        let mut line = Builder::new(talker, b"ALF");
        line.field(format_args!("{}", self.total));
        line.field(format_args!("{}", self.number));
        line.field(format_args!("{}", self.sequence));
        match self.standing {
            Some(standing) => {
                moment(&mut line, standing.at);
                line.letter(standing.category.letter());
                line.letter(standing.priority.letter());
                line.letter(standing.state.letter());
            }
            None => (0..4).for_each(|_| line.null()),
        }
        name(&mut line, &self.name);
        line.field(format_args!("{}", self.revision));
        line.field(format_args!("{}", self.escalation));
        line.words(&self.words);
        line.finish()
    }
}

/// One alert as the instrument has it, before it is cut into sentences.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alert {
    /// Which alert.
    pub name: AlertName,
    /// Where it stands.
    pub standing: Standing,
    /// 1 to 99, up at each change of state.
    pub revision: u8,
    /// 0 to 9, up at each escalation.
    pub escalation: u8,
    /// Its title, [`TITLE_MOST`] characters at most.
    pub title: Words,
    /// More about it; empty for none, and then one sentence does.
    pub description: Words,
}

impl Alert {
    /// Its one or two ALF sentences. `sequence` ties two together, 0 to 9.
    pub fn write(
        &self,
        talker: Talker,
        sequence: u8,
    ) -> Result<heapless::Vec<SentenceBytes, 2>, TooLong> {
        let total = if self.description.is_empty() { 1 } else { 2 };
        let mut lines = heapless::Vec::new();
        for number in 1..=total {
            let first = number == 1;
            let words = if first {
                self.title.chars().take(TITLE_MOST).collect()
            } else {
                self.description.clone()
            };
            let alf = Alf {
                total,
                number,
                sequence: sequence % 10,
                standing: first.then_some(self.standing),
                name: self.name.clone(),
                revision: self.revision,
                escalation: self.escalation,
                words,
            };
            lines.push(alf.write(talker)?).map_err(|_| TooLong)?;
        }
        Ok(lines)
    }

    /// The same alert the older way, under a local number of 0 to 999.
    pub fn as_alr(&self, number: u16) -> Alr {
        let (condition, acknowledgement) = self.standing.state.for_alr();
        Alr {
            at: self.standing.at,
            number,
            condition,
            acknowledgement,
            words: self.title.clone(),
        }
    }
}

impl Alc {
    /// The sentence, or that its entries do not fit in one.
    pub fn write(&self, talker: Talker) -> Result<SentenceBytes, TooLong> {
        let mut line = Builder::new(talker, b"ALC");
        line.field(format_args!("{:02}", self.total));
        line.field(format_args!("{:02}", self.number));
        line.field(format_args!("{:02}", self.sequence));
        line.field(format_args!("{}", self.entries.len()));
        for entry in &self.entries {
            name(&mut line, &entry.name);
            line.field(format_args!("{}", entry.revision));
        }
        line.finish()
    }
}

/// Writes the list of all alerts that are not normal as ALC sentences, no
/// entry split between two. `sequence` ties them together, 0 to 99.
pub fn list(
    talker: Talker,
    sequence: u8,
    entries: &[Entry],
    line: &mut impl FnMut(&SentenceBytes),
) -> Result<(), TooLong> {
    let total = count(entries)?;
    let mut rest = entries;
    for number in 1..=total {
        let fitting = fit(rest);
        let (these, behind) = rest.split_at_checked(fitting).ok_or(TooLong)?;
        let alc = Alc {
            total,
            number,
            sequence: sequence % 100,
            entries: heapless::Vec::from_slice(these).map_err(|_| TooLong)?,
        };
        line(&alc.write(talker)?);
        rest = behind;
    }
    Ok(())
}

/// How many sentences the list takes; an empty list takes one.
fn count(entries: &[Entry]) -> Result<u8, TooLong> {
    let mut rest = entries.get(fit(entries)..).unwrap_or_default();
    let mut total = 1u8;
    while !rest.is_empty() {
        let fitting = fit(rest);
        if fitting == 0 || total == 99 {
            return Err(TooLong);
        }
        rest = rest.get(fitting..).unwrap_or_default();
        total += 1;
    }
    Ok(total)
}

/// How many entries from the first on fit in one sentence.
fn fit(entries: &[Entry]) -> usize {
    let mut room = Builder::ROOM - ALC_HEAD;
    entries
        .iter()
        .take(ENTRIES_MOST)
        .take_while(|entry| {
            let length = entry_length(entry);
            let fits = length <= room;
            room = room.saturating_sub(length);
            fits
        })
        .count()
}

/// `,maker,id,instance,revision`.
fn entry_length(entry: &Entry) -> usize {
    let instance = entry.name.instance.map_or(0, digits);
    4 + entry.name.maker.len() + digits(entry.name.id) + instance + digits(entry.revision.into())
}

fn digits(value: u32) -> usize {
    value.checked_ilog10().map_or(1, |power| power as usize + 1)
}

impl Acn {
    /// The sentence.
    pub fn write(&self, talker: Talker) -> Result<SentenceBytes, TooLong> {
        let mut line = Builder::new(talker, b"ACN");
        moment(&mut line, self.at);
        name(&mut line, &self.name);
        line.letter(self.command.letter());
        line.letter(b'C');
        line.finish()
    }
}

impl Arc {
    /// The sentence.
    pub fn write(&self, talker: Talker) -> Result<SentenceBytes, TooLong> {
        let mut line = Builder::new(talker, b"ARC");
        moment(&mut line, self.at);
        name(&mut line, &self.name);
        line.letter(self.command.letter());
        line.finish()
    }
}

impl Hbt {
    /// The sentence.
    pub fn write(&self, talker: Talker) -> Result<SentenceBytes, TooLong> {
        let mut line = Builder::new(talker, b"HBT");
        match self.interval_s {
            Some(seconds) => line.field(format_args!("{seconds}")),
            None => line.null(),
        }
        line.letter(self.health.letter());
        match self.sequence {
            Some(sequence) => line.field(format_args!("{sequence}")),
            None => line.null(),
        }
        line.finish()
    }
}

fn moment(line: &mut Builder, at: Option<TimeOfDay>) {
    match at {
        Some(at) => line.field(format_args!("{at}")),
        None => line.null(),
    }
}

fn name(line: &mut Builder, name: &AlertName) {
    line.field(format_args!("{}", name.maker));
    line.field(format_args!("{}", name.id));
    match name.instance {
        Some(instance) => line.field(format_args!("{instance}")),
        None => line.null(),
    }
}
