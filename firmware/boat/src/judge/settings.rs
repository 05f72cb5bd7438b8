//! Ports and outputs: does anything come in, and does what goes out have a
//! way out?

use super::{Remarks, entry};
use crate::ports::Address;
use crate::settings::{AlertSentences, SendWhat};

pub(super) fn judge(remarks: &mut Remarks<'_>) {
    let file = remarks.file;
    if file.ports.is_empty() {
        remarks.note(
            "port".into(),
            "no port is named".into(),
            "add [[port]], or give --port each time",
        );
    }
    for (place, settings) in file.ports.iter().enumerate() {
        let is_one_way = match settings.port.address {
            Address::File(_) | Address::Stdin => true,
            Address::Serial { .. }
            | Address::Tcp { .. }
            | Address::ServeTcp { .. }
            | Address::Udp { .. } => false,
        };
        if is_one_way && !settings.send.is_empty() {
            remarks.fault(
                format!("{}.send", entry("port", place)),
                format!("nothing can be sent to {}", settings.port.address),
                "send on a serial, TCP or UDP port",
            );
        }
        if settings.send.contains(&SendWhat::TrueWind) && file.outputs.true_wind.is_empty() {
            remarks.fault(
                format!("{}.send", entry("port", place)),
                "true wind is sent, but in no sentence".into(),
                "give [outputs.true_wind_every_s], such as MWV = 1",
            );
        }
        if settings.send.contains(&SendWhat::Alerts) && file.outputs.alerts == AlertSentences::None
        {
            remarks.fault(
                format!("{}.send", entry("port", place)),
                "alerts are sent, but outputs.alerts is \"none\"".into(),
                "give outputs.alerts = \"ALF\" or \"ALR\"",
            );
        }
    }
    if file.boat.instruments.masthead_height.is_none() {
        remarks.note(
            "instruments.masthead_height_m".into(),
            "is not given, so wind at 10 m and Beaufort force are not shown".into(),
            "give the height of the wind unit over the water",
        );
    }
}
