//! Reads alert sentences.

use super::{
    Ack, Acknowledgement, Acn, Alc, AlertIn, AlertName, AlertState, Alf, Alr, Arc, Category,
    Command, Condition, Entry, Hbt, Health, MakerCode, Priority, Standing, TimeOfDay, words,
};
use crate::decode::Out;
use crate::decode::hearing::Hearing;
use crate::fields::{Fields, whole};
use crate::refusal::Refusal;

/// `alarm number`.
pub(crate) fn ack(h: &mut Hearing<'_, '_>) {
    let number = whole(h.fields().text(0), 3);
    tell(
        h,
        number.map(|number| {
            AlertIn::Acknowledge(Ack {
                number: number as u16,
            })
        }),
    );
}

/// `UTC, maker, id, instance, command, C`. Without the C it is no command.
pub(crate) fn acn(h: &mut Hearing<'_, '_>) {
    if h.fields().letter(5) != Some(b'C') {
        return h.refuse(Refusal::NotACommand);
    }
    let read = command(h.fields());
    tell(
        h,
        read.map(|(at, name, command)| AlertIn::Command(Acn { at, name, command })),
    );
}

/// `UTC, maker, id, instance, refused command`.
pub(crate) fn arc(h: &mut Hearing<'_, '_>) {
    let read = command(h.fields());
    tell(
        h,
        read.map(|(at, name, command)| AlertIn::Refused(Arc { at, name, command })),
    );
}

/// `UTC, number, condition, acknowledgement, text`.
pub(crate) fn alr(h: &mut Hearing<'_, '_>) {
    let read = read_alr(h.fields());
    tell(h, read.map(AlertIn::Alarm));
}

/// `total, number, sequence, UTC, category, priority, state, maker, id,
/// instance, revision, escalation, text`.
pub(crate) fn alf(h: &mut Hearing<'_, '_>) {
    let read = read_alf(h.fields());
    tell(h, read.map(AlertIn::Alert));
}

/// `total, number, sequence, entries`, then `maker, id, instance, revision`
/// for each.
pub(crate) fn alc(h: &mut Hearing<'_, '_>) {
    let read = read_alc(h.fields());
    tell(h, read.map(AlertIn::List));
}

/// `interval, status, sequence`. The interval may have decimals.
pub(crate) fn hbt(h: &mut Hearing<'_, '_>) {
    let fields = h.fields();
    let interval = fields.number(0).value();
    let interval = interval.filter(|seconds| (1.0..=999.0).contains(seconds));
    let health = match fields.get(1) {
        Some(b"") => Some(Health::Faulty),
        _ => fields.letter(1).and_then(Health::from_letter),
    };
    let sequence = whole(fields.text(2), 1).map(|digit| digit as u8);
    tell(
        h,
        health.map(|health| {
            AlertIn::Heartbeat(Hbt {
                interval_s: interval.map(|seconds| seconds as u16),
                health,
                sequence,
            })
        }),
    );
}

fn tell(h: &mut Hearing<'_, '_>, alert: Option<AlertIn>) {
    match alert {
        Some(alert) => h.out(Out::Alert(&alert)),
        None => h.refuse(Refusal::Layout),
    }
}

fn command(fields: &Fields<'_>) -> Option<(Option<TimeOfDay>, AlertName, Command)> {
    Some((
        moment(fields, 0)?,
        name(fields, 1)?,
        Command::from_letter(fields.letter(4)?)?,
    ))
}

fn read_alr(fields: &Fields<'_>) -> Option<Alr> {
    Some(Alr {
        at: moment(fields, 0)?,
        number: whole(fields.text(1), 3)? as u16,
        condition: Condition::from_letter(fields.letter(2)?)?,
        acknowledgement: Acknowledgement::from_letter(fields.letter(3)?)?,
        words: words::read(fields.text(4)),
    })
}

fn read_alf(fields: &Fields<'_>) -> Option<Alf> {
    let null = (3..7).all(|index| fields.text(index).is_empty());
    let standing = if null {
        None
    } else {
        Some(Standing {
            at: moment(fields, 3)?,
            category: Category::from_letter(fields.letter(4)?)?,
            priority: Priority::from_letter(fields.letter(5)?)?,
            state: AlertState::from_letter(fields.letter(6)?)?,
        })
    };
    Some(Alf {
        total: small(fields, 0, 1)?,
        number: small(fields, 1, 1)?,
        sequence: small(fields, 2, 1)?,
        standing,
        name: name(fields, 7)?,
        revision: small(fields, 10, 2)?,
        escalation: small(fields, 11, 1)?,
        words: words::read(fields.text(12)),
    })
}

fn read_alc(fields: &Fields<'_>) -> Option<Alc> {
    let mut list = Alc {
        total: small(fields, 0, 2)?,
        number: small(fields, 1, 2)?,
        sequence: small(fields, 2, 2)?,
        entries: heapless::Vec::new(),
    };
    for entry in 0..usize::from(small(fields, 3, 2)?) {
        let first = 4 + entry * 4;
        let entry = Entry {
            name: name(fields, first)?,
            revision: small(fields, first + 3, 2)?,
        };
        list.entries.push(entry).ok()?;
    }
    Some(list)
}

/// `maker, id, instance`.
fn name(fields: &Fields<'_>, first: usize) -> Option<AlertName> {
    let maker = core::str::from_utf8(fields.text(first)).ok()?;
    let instance = match fields.text(first + 2) {
        b"" => None,
        digits => Some(whole(digits, 6)?),
    };
    Some(AlertName {
        maker: MakerCode::try_from(maker).ok()?,
        id: whole(fields.text(first + 1), 7)?,
        instance,
    })
}

/// A time that may be null; the outer `None` is one that cannot be.
fn moment(fields: &Fields<'_>, index: usize) -> Option<Option<TimeOfDay>> {
    match fields.text(index) {
        b"" => Some(None),
        field => TimeOfDay::read(field).map(Some),
    }
}

fn small(fields: &Fields<'_>, index: usize, digits: usize) -> Option<u8> {
    whole(fields.text(index), digits).map(|value| value as u8)
}
