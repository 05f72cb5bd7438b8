//! What is wrong with a panel, keys or a sounder, as a line of the event log.
//!
//! The shell tells it, not the core: such a line has no number of its own and
//! no replay brings it again.

use cringle_core::event::FaultTurn;
use cringle_core::view::View;

use super::json::{EventLine, More, VERSION};
use crate::names::Names;

/// What has changed between two lists of faults.
pub fn turns<'f>(
    known: &'f [String],
    faults: &'f [String],
) -> impl Iterator<Item = (FaultTurn, &'f str)> {
    let began = faults.iter().filter(|it| !known.contains(it));
    let ended = known.iter().filter(|it| !faults.contains(it));
    began
        .map(|it| (FaultTurn::Began, it.as_str()))
        .chain(ended.map(|it| (FaultTurn::Ended, it.as_str())))
}

/// A turn as one line of JSON, without line end.
pub fn device_line(turn: FaultTurn, why: &str, view: &View, names: &Names) -> String {
    let line = EventLine {
        v: VERSION,
        seq: None,
        id: 0,
        t: view.unix_ms.map(|ms| ms as f64 / 1000.0),
        up_s: view.now.as_secs_f64(),
        event: "fault",
        call: view.call.call.word(),
        priority: None,
        cause: None,
        why,
        plan: names.plan(view.plan.id),
        next: None,
        at_once: None,
        minutes_in_hand: None,
        slack_s: None,
        soonest_min: None,
        promise: None,
        call_time_s: None,
        odds: None,
        tws_mean_1min_kn: None,
        gust_3s_kn: None,
        heel_mean_deg: None,
        more: More::of_fault("device", turn.word()),
    };
    line.write()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_changed_is_told() {
        let list = |words: &[&str]| words.iter().map(|it| (*it).to_owned()).collect::<Vec<_>>();
        let (known, faults) = (list(&["a", "b"]), list(&["b", "c"]));
        let told: Vec<_> = turns(&known, &faults).collect();
        assert_eq!(told, [(FaultTurn::Began, "c"), (FaultTurn::Ended, "a")]);
        assert_eq!(turns(&known, &known).count(), 0);
    }

    #[test]
    fn a_line_says_which_device_and_whether_it_came_or_went() {
        let boat_file = cringle_boat::example().unwrap();
        let names = crate::wiring::names(&boat_file, &[]);
        let view = cringle_screen::samples::calm();
        let line = device_line(FaultTurn::Began, "panel on /dev/i2c-1", &view, &names);
        let line: serde_json::Value = serde_json::from_str(&line).unwrap();
        assert_eq!(line["event"], "fault");
        assert_eq!(
            (&line["fault"], &line["turn"]),
            (&"device".into(), &"began".into())
        );
        assert_eq!(line["why"], "panel on /dev/i2c-1");
        assert!(line["seq"].is_null() && line["odds"].is_null());
    }
}
