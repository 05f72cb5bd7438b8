//! People and calling: is anybody there, and has anybody vouched?

use cringle_core::act::Helm;
use cringle_core::instruments::Confirmation;
use cringle_core::ladder::effective_limit;

use super::Remarks;

pub(super) fn judge(remarks: &mut Remarks<'_>) {
    let boat = &remarks.file.boat;
    let hands = boat.start.hands;
    if hands.on_deck == 0 {
        remarks.fault(
            "start.on_deck".into(),
            "nobody is on deck".into(),
            "count the one on watch",
        );
    }
    if hands.below > 0 && boat.crew.muster_minutes < 2.0 {
        let what = format!(
            "hands below are on deck in {} min",
            boat.crew.muster_minutes
        );
        remarks.note(
            "crew.muster_minutes".into(),
            what,
            "time it from sleep to clipped on: 5 to 10 min is usual",
        );
    }
    if boat.crew.spread == 0.0 {
        remarks.note(
            "crew.spread".into(),
            "booked times are taken as exact".into(),
            "0.3 is usual",
        );
    }
    watch_bill(remarks);
    pilot(remarks);
    if boat.calling.limits == Confirmation::Unconfirmed {
        remarks.note(
            "calling.limits_confirmed".into(),
            "nobody has vouched for the limits".into(),
            "sail her, set the limits, then write limits_confirmed = true",
        );
    }
    if boat.instruments.wind_confirmed == Confirmation::Unconfirmed {
        remarks.note(
            "instruments.wind_confirmed".into(),
            "nobody has vouched for the wind unit".into(),
            "check offset and factor on both tacks, then write wind_confirmed = true",
        );
    }
}

fn pilot(remarks: &mut Remarks<'_>) {
    let boat = &remarks.file.boat;
    let limits = boat.ladder.plans.iter();
    let means = limits.filter_map(|plan| effective_limit(plan, None).mean);
    let highest = means.map(|mean| mean.get()).fold(0.0, f64::max);
    if boat.start.helm == Helm::Pilot && boat.crew.pilot_limit_kn.is_none() && highest > 0.0 {
        let what = format!("the pilot is trusted to bring her up in {highest} kn and more");
        remarks.note(
            "crew.pilot_limit_kn".into(),
            what,
            "give the true wind above which one hand steers",
        );
    }
}

fn watch_bill(remarks: &mut Remarks<'_>) {
    let boat = &remarks.file.boat;
    let Some(bill) = &boat.bill else {
        return;
    };
    let in_bill: u32 = bill.roles().iter().map(|role| u32::from(role.hands)).sum();
    let hands = boat.start.hands;
    let aboard = u32::from(hands.on_deck) + u32::from(hands.below);
    if in_bill != aboard {
        remarks.fault(
            "watch_bill.role".into(),
            format!("the watch bill has {in_bill} people, [start] has {aboard}"),
            "count everybody who stands a watch in both",
        );
    }
}
