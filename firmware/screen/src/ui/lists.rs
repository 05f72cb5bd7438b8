//! The lists behind the menu key: what can be chosen, and what each choice
//! does.

use heapless::Vec;

use cringle_core::act::{
    Act, Condition, Doing, Hands, Helm, NotNow, PointOfSail, Readiness, Rigging, Sea,
};
use cringle_core::event::{Call, Hint};
use cringle_core::instruments::Confirmation;
use cringle_core::ladder::PlanId;
use cringle_core::text::{Text, format, text};
use cringle_core::units::Knots;
use cringle_core::view::{RungView, View, WatchBillKept};

use crate::words::Words;

/// Most choices in a list.
pub const MAX_CHOICES: usize = 32;

const NOT_NOW_MINUTES: [u8; 4] = [20, 30, 40, 60];
const SQUALL_MINUTES: [u8; 7] = [5, 10, 15, 20, 30, 45, 60];
const SQUALL_KNOTS: [f64; 7] = [20.0, 25.0, 30.0, 35.0, 40.0, 50.0, 60.0];
const MOST_HANDS: u8 = 8;
/// Wind by hand: from 4 kn in steps of 2 to 60 kn.
const WIND_STEPS: u8 = 29;

/// A list.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum List {
    /// The menu itself.
    Menu,
    /// Which plan is set.
    Plans,
    /// Why a call is put off.
    NotNowWhy,
    /// And for how long.
    NotNowMinutes(NotNow),
    /// When a squall is here.
    Squall,
    /// And how strong it looks.
    SquallStrength(u8),
    /// Set-up items to tick.
    Setup,
    /// What is rigged now.
    Rigged,
    /// Hands on deck.
    OnDeck,
    /// Hands below, with those on deck.
    Below(u8),
    /// Fresh or worn out.
    Condition,
    /// Who steers.
    Helm,
    /// What the boat is doing.
    Doing,
    /// Wind by hand.
    WindSpeed,
    /// And where it comes from.
    WindSide(Knots),
    /// The sea.
    Sea,
    /// Colours and brightness.
    Look,
}

/// A choice in a list.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Choice {
    /// Opens another list.
    Open(List),
    /// Does it at once.
    Do(Act),
    /// Does it and stays, as ticks do.
    Tick(Act),
    /// Asks first.
    Ask(Act),
    /// Changes the screen itself.
    Look(LookStep),
    /// Back to the page.
    Close,
}

/// A change of the screen itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LookStep {
    /// Day colours.
    Day,
    /// Night colours.
    Night,
    /// One step up.
    Brighter,
    /// One step down.
    Dimmer,
}

/// The choices of a list, in order.
pub fn choices(list: List, view: &View) -> Vec<Choice, MAX_CHOICES> {
    let mut all = Vec::new();
    match list {
        List::Menu => menu(&mut all, view),
        List::Plans => all.extend(
            view.ladder
                .iter()
                .map(|rung| Choice::Ask(Act::Plan(rung.id))),
        ),
        List::NotNowWhy => all.extend(
            [NotNow::Traffic, NotNow::Lull, NotNow::Rest, NotNow::Shelter]
                .map(|because| Choice::Open(List::NotNowMinutes(because))),
        ),
        List::NotNowMinutes(because) => {
            all.extend(NOT_NOW_MINUTES.map(|minutes| Choice::Do(Act::NotNow { minutes, because })))
        }
        List::Squall => {
            // None in sight after all; not offered where none was seen.
            if view.squall_due.is_some() {
                all.extend([Choice::Ask(Act::SquallSeen {
                    minutes: 0,
                    strength: None,
                })]);
            }
            all.extend(SQUALL_MINUTES.map(|it| Choice::Open(List::SquallStrength(it))));
        }
        List::SquallStrength(minutes) => {
            let seen = |strength| Choice::Do(Act::SquallSeen { minutes, strength });
            all.extend([seen(None)]);
            all.extend(SQUALL_KNOTS.map(|kn| seen(Knots::new(kn).ok())));
        }
        List::Setup => all.extend(view.setup.iter().map(|item| {
            Choice::Tick(Act::Setup {
                item: item.id,
                readiness: match item.ready {
                    Readiness::Open => Readiness::Ready,
                    Readiness::Ready => Readiness::Open,
                },
            })
        })),
        List::Rigged => all.extend(view.rigged.iter().map(|item| {
            Choice::Tick(Act::Rigged {
                item: item.id,
                rigging: match item.rigging {
                    Rigging::Cleared => Rigging::Rigged,
                    Rigging::Rigged => Rigging::Cleared,
                },
            })
        })),
        List::OnDeck => all.extend((0..=MOST_HANDS).map(|n| Choice::Open(List::Below(n)))),
        List::Below(on_deck) => all
            .extend((0..=MOST_HANDS).map(|below| Choice::Do(Act::Hands(Hands { on_deck, below })))),
        List::Condition => all
            .extend([Condition::Fresh, Condition::WornOut].map(|c| Choice::Do(Act::Condition(c)))),
        List::Helm => all.extend([Helm::Pilot, Helm::Hand].map(|h| Choice::Do(Act::Helm(h)))),
        List::Doing => all.extend(DOINGS.map(|doing| choose_doing(doing, view.doing))),
        List::WindSpeed => all.extend(
            (0..WIND_STEPS)
                .filter_map(|step| Knots::new(4.0 + 2.0 * f64::from(step)).ok())
                .map(|speed| Choice::Open(List::WindSide(speed))),
        ),
        List::WindSide(speed) => all.extend(
            [
                PointOfSail::CloseHauled,
                PointOfSail::Reaching,
                PointOfSail::Running,
            ]
            .map(|side| Choice::Do(Act::WindByHand { speed, side })),
        ),
        List::Sea => {
            all.extend([Choice::Do(Act::Sea(None))]);
            all.extend(SEAS.map(|sea| Choice::Do(Act::Sea(Some(sea)))));
        }
        List::Look => all.extend(
            [
                LookStep::Dimmer,
                LookStep::Brighter,
                LookStep::Night,
                LookStep::Day,
            ]
            .map(Choice::Look),
        ),
    }
    all
}

const DOINGS: [Doing; 6] = [
    Doing::Sailing,
    Doing::MotorSailing,
    Doing::HoveTo,
    Doing::Motoring,
    Doing::Anchored,
    Doing::Moored,
];

const SEAS: [Sea; 5] = [
    Sea::Smooth,
    Sea::Slight,
    Sea::Moderate,
    Sea::Rough,
    Sea::VeryRough,
];

/// A choice after which calls stop is asked about first.
fn choose_doing(doing: Doing, present: Doing) -> Choice {
    if present.is_under_sail() && !doing.is_under_sail() {
        Choice::Ask(Act::Doing(doing))
    } else {
        Choice::Do(Act::Doing(doing))
    }
}

fn menu(all: &mut Vec<Choice, MAX_CHOICES>, view: &View) {
    if view.hints.contains(&Hint::WatchDue) {
        all.extend([Choice::Do(Act::WatchChanged)]);
    }
    if view.sounds.bunk.is_some() {
        all.extend([Choice::Do(Act::UpAtBunk)]);
    }
    if view.muster_left_s.is_some() {
        all.extend([Choice::Do(Act::OnDeck)]);
    }
    if view.manoeuvre.is_some() {
        all.extend([Choice::Ask(Act::GivenUp)]);
    } else if view.next.is_some() {
        all.extend([Choice::Ask(Act::Started)]);
    }
    if may_put_off(view) {
        all.extend([Choice::Open(List::NotNowWhy)]);
    }
    all.extend([Choice::Open(List::Plans), Choice::Open(List::Squall)]);
    if !view.setup.is_empty() {
        all.extend([Choice::Open(List::Setup)]);
    }
    if !view.rigged.is_empty() {
        all.extend([Choice::Open(List::Rigged)]);
    }
    // Before it is asked for: a watch relieved early.
    if view.moment.watch_bill == WatchBillKept::Kept && !view.hints.contains(&Hint::WatchDue) {
        all.extend([Choice::Do(Act::WatchChanged)]);
    }
    all.extend([
        Choice::Open(List::OnDeck),
        Choice::Open(List::Condition),
        Choice::Open(List::Helm),
        Choice::Open(List::Doing),
        Choice::Open(List::Sea),
        Choice::Open(List::WindSpeed),
        Choice::Do(Act::Wake),
    ]);
    let is_now = |hint: &Hint| matches!(hint, Hint::ReduceNow(_));
    if view.hints.iter().any(is_now) {
        all.extend([Choice::Do(Act::DeclineBeforeDark)]);
    }
    if view.limits_confirmed == Confirmation::Unconfirmed {
        all.extend([Choice::Ask(Act::ConfirmLimits)]);
    }
    if view.wind_confirmed == Confirmation::Unconfirmed {
        all.extend([Choice::Ask(Act::ConfirmWind)]);
    }
    all.extend([Choice::Open(List::Look), Choice::Close]);
}

/// Only a `prepare` may be put off: a `reduce` never.
pub fn may_put_off(view: &View) -> bool {
    view.call.call == Call::Prepare
}

/// Where the cursor starts: at what holds now, where that can be told.
pub fn start(list: List, view: &View) -> u8 {
    let found = match list {
        List::Plans => view
            .ladder
            .iter()
            .position(|rung| Some(rung.id) == view.next),
        // Never on the one that takes a squall back.
        List::Squall => Some(usize::from(view.squall_due.is_some())),
        List::OnDeck => Some(view.people.hands.on_deck as usize),
        List::Below(_) => Some(view.people.hands.below as usize),
        List::Doing => DOINGS.iter().position(|&doing| doing == view.doing),
        List::Sea => SEAS
            .iter()
            .position(|&sea| sea == view.people.sea)
            .map(|at| at + 1),
        List::Helm => Some(usize::from(view.people.helm == Helm::Hand)),
        List::Condition => Some(usize::from(view.people.condition == Condition::WornOut)),
        List::WindSpeed => {
            let near = view.wind.mean_1min_kn.unwrap_or(16.0);
            Some((((near - 4.0) / 2.0).max(0.0) as usize).min(WIND_STEPS as usize - 1))
        }
        List::Menu
        | List::NotNowWhy
        | List::NotNowMinutes(_)
        | List::SquallStrength(_)
        | List::Setup
        | List::Rigged
        | List::WindSide(_)
        | List::Look => None,
    };
    found.unwrap_or(0).min(MAX_CHOICES) as u8
}

/// What a list is called.
pub fn title(list: List, words: &Words) -> &'static str {
    let menu = &words.menu;
    match list {
        List::Menu => menu.title,
        List::Plans => menu.plan_set,
        List::NotNowWhy => menu.not_now,
        List::NotNowMinutes(_) => menu.not_now_for,
        List::Squall => menu.squall,
        List::SquallStrength(_) => menu.squall_strength,
        List::Setup => menu.setup,
        List::Rigged => menu.rigged,
        List::OnDeck => menu.on_deck,
        List::Below(_) => menu.below,
        List::Condition => menu.worn_out,
        List::Helm => menu.helm,
        List::Doing => menu.doing,
        List::WindSpeed => menu.wind_by_hand,
        List::WindSide(_) => menu.wind_side,
        List::Sea => menu.sea,
        List::Look => menu.look,
    }
}

/// What a choice says.
pub fn label(choice: Choice, view: &View, words: &Words) -> Text<40> {
    match choice {
        Choice::Open(List::NotNowMinutes(because)) => text((words.name.not_now)(because)),
        Choice::Open(List::SquallStrength(minutes)) => {
            format(format_args!("{minutes} {}", words.menu.minutes))
        }
        Choice::Open(List::Below(on_deck)) => count(on_deck, words),
        Choice::Open(List::WindSide(speed)) => {
            format(format_args!("{:.0} {}", speed.get(), words.page.knots))
        }
        Choice::Open(list) => text(title(list, words)),
        // A line of a list is short; the question then names the sails.
        Choice::Ask(Act::Started) => {
            let next = view.next.and_then(|id| rung(view, id));
            let name = next.map_or(words.home.not_said, |rung| rung.short.as_str());
            format(format_args!("{}: {name}", words.menu.started))
        }
        Choice::Do(act) | Choice::Tick(act) | Choice::Ask(act) => act_label(act, view, words),
        Choice::Look(step) => text(match step {
            LookStep::Day => words.menu.look_day,
            LookStep::Night => words.menu.look_night,
            LookStep::Brighter => words.menu.brighter,
            LookStep::Dimmer => words.menu.dimmer,
        }),
        Choice::Close => text(words.menu.close),
    }
}

/// What an act says, in a list or a question.
pub fn act_label(act: Act, view: &View, words: &Words) -> Text<40> {
    let menu = &words.menu;
    match act {
        Act::Acknowledge | Act::Silence => text(words.key.acknowledge),
        Act::Started => {
            let next = view.next.and_then(|id| rung(view, id));
            let name = next.map_or(words.home.not_said, |rung| rung.name.as_str());
            format(format_args!("{}: {}", menu.started, name))
        }
        Act::GivenUp => text(menu.given_up),
        Act::Plan(id) => text(rung(view, id).map_or(words.home.not_said, |rung| &rung.name)),
        Act::PlanDown | Act::PlanUp => text(menu.plan_set),
        Act::SquallSeen { minutes: 0, .. } => text(menu.squall_gone),
        Act::SquallSeen { strength, .. } => match strength {
            Some(kn) => format(format_args!("{:.0} {}", kn.get(), words.page.knots)),
            None => text(words.page.unknown),
        },
        Act::NotNow { minutes, .. } => format(format_args!("{} {}", minutes, menu.minutes)),
        Act::Setup { item, .. } => {
            let found = view.setup.iter().find(|known| known.id == item);
            text(found.map_or(words.home.not_said, |known| &known.name))
        }
        Act::Rigged { item, .. } => {
            let found = view.rigged.iter().find(|known| known.id == item);
            text(found.map_or(words.home.not_said, |known| &known.name))
        }
        Act::Hands(hands) => count(hands.below, words),
        Act::Condition(condition) => text((words.name.condition)(condition)),
        Act::Helm(helm) => text((words.name.helm)(helm)),
        Act::Doing(doing) => text((words.name.doing)(doing)),
        Act::Sea(None) => text(menu.by_motion),
        Act::Sea(Some(sea)) => text((words.name.sea)(sea)),
        Act::WindByHand { side, .. } => text((words.name.point)(side)),
        Act::Wake => text(menu.wake),
        Act::UpAtBunk => text(menu.up_at_bunk),
        Act::OnDeck => text(menu.called_on_deck),
        Act::Answer { to, reply } => text((words.name.answer)(to, reply)),
        Act::ConfirmLimits => text(menu.confirm_limits),
        Act::ConfirmWind => text(menu.confirm_wind),
        Act::WatchChanged => text(menu.watch_changed),
        Act::DeclineBeforeDark => text(menu.decline_moment),
    }
}

/// The rung with this id.
pub fn rung(view: &View, id: PlanId) -> Option<&RungView> {
    view.ladder.iter().find(|rung| rung.id == id)
}

fn count(people: u8, words: &Words) -> Text<40> {
    match people {
        0 => text(words.menu.nobody),
        some => format(format_args!("{some}")),
    }
}
