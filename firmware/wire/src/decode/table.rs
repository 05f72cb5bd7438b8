//! The one table of decoders.

use super::hearing::Hearing;
use super::{attitude, heading, machine, navigation, speed, wind};
use crate::alert;
use crate::sentence::Formatter;

/// Reads one sentence and tells what it says.
pub(crate) type Read = fn(&mut Hearing<'_, '_>);

/// Formatters in alphabetical order, each with its decoder. The place is part
/// of a [`SourceId`](cringle_core::reading::SourceId), which lives only as
/// long as the process does, so entries may be added anywhere in order.
const TABLE: [(Formatter, Read); 32] = [
    (Formatter::known(b"ACK"), alert::ack),
    (Formatter::known(b"ACN"), alert::acn),
    (Formatter::known(b"ALC"), alert::alc),
    (Formatter::known(b"ALF"), alert::alf),
    (Formatter::known(b"ALR"), alert::alr),
    (Formatter::known(b"ARC"), alert::arc),
    (Formatter::known(b"ASHR"), attitude::pashr),
    (Formatter::known(b"DBT"), navigation::dbt),
    (Formatter::known(b"DPT"), navigation::dpt),
    (Formatter::known(b"GGA"), navigation::gga),
    (Formatter::known(b"GLL"), navigation::gll),
    (Formatter::known(b"HBT"), alert::hbt),
    (Formatter::known(b"HDG"), heading::hdg),
    (Formatter::known(b"HDM"), heading::hdm),
    (Formatter::known(b"HDT"), heading::hdt),
    (Formatter::known(b"MDA"), navigation::mda),
    (Formatter::known(b"MTW"), navigation::mtw),
    (Formatter::known(b"MWD"), wind::mwd),
    (Formatter::known(b"MWV"), wind::mwv),
    (Formatter::known(b"RMC"), navigation::rmc),
    (Formatter::known(b"ROT"), machine::rot),
    (Formatter::known(b"RPM"), machine::rpm),
    (Formatter::known(b"RSA"), machine::rsa),
    (Formatter::known(b"THS"), heading::ths),
    (Formatter::known(b"VBW"), speed::vbw),
    (Formatter::known(b"VHW"), speed::vhw),
    (Formatter::known(b"VLW"), speed::vlw),
    (Formatter::known(b"VTG"), navigation::vtg),
    (Formatter::known(b"VWR"), wind::vwr),
    (Formatter::known(b"VWT"), wind::vwt),
    (Formatter::known(b"XDR"), attitude::xdr),
    (Formatter::known(b"ZDA"), navigation::zda),
];

/// The decoder of a sentence, with its place in the table.
pub(crate) fn find(formatter: Formatter) -> Option<(u8, Read)> {
    let place = TABLE
        .binary_search_by_key(&formatter, |(known, _)| *known)
        .ok()?;
    let (_, read) = TABLE.get(place)?;
    Some((place as u8, *read))
}

/// The place of a sentence in the table.
pub(crate) fn place_of(formatter: Formatter) -> Option<u8> {
    find(formatter).map(|(place, _)| place)
}

/// The sentence at a place in the table.
pub(crate) fn formatter_at(place: u8) -> Option<Formatter> {
    TABLE
        .get(usize::from(place))
        .map(|(formatter, _)| *formatter)
}
