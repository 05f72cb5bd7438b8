//! The watch bill: which roles are on deck and who may be called, turn after
//! turn, and where in it the crew is now.
//!
//! A bill is a run of turns of any length that repeats; it need not fit a
//! day. It is set going either by a moment of UTC from the boat file or by one
//! press of "watch changed", which also puts it right later. Before either,
//! nothing is known of later hours.

use core::time::Duration;

use heapless::Vec;

use crate::act::Hands;
use crate::text::Text;
use crate::time::{Timestamp, UtcFix};

/// Most roles of a bill.
pub const MAX_ROLES: usize = 8;
/// Most turns before it repeats: a Swedish two days are ten.
pub const MAX_TURNS: usize = 16;
/// Shortest turn. Common practice, no source.
pub const LEAST_TURN_MIN: u16 = 30;
/// Longest turn. Common practice, no source.
pub const MOST_TURN_MIN: u16 = 12 * 60;

/// A watch: one person or several who go on deck together.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Role {
    /// As the crew says it: "port watch", "mate".
    pub name: Text<16>,
    /// People in it.
    pub hands: u8,
}

/// One turn of the run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DeckTurn {
    /// Its length.
    pub minutes: u16,
    /// Roles on deck, a bit for each by its place in the bill.
    pub on_deck: u8,
}

/// Who is on deck when.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct WatchBill {
    roles: Vec<Role, MAX_ROLES>,
    turns: Vec<DeckTurn, MAX_TURNS>,
    /// Unix seconds at which the first turn begins, where the boat file says.
    begins_unix_s: Option<i64>,
    /// Seconds for which both watches are up at a change.
    overlap_s: u32,
}

/// Why roles and turns are no watch bill.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Refused {
    /// No role, or more than [`MAX_ROLES`].
    Roles,
    /// No turn, or more than [`MAX_TURNS`].
    Turns,
    /// The turn at this place has nobody on deck or a role that is not there.
    Nobody(usize),
    /// The turn at this place is shorter or longer than a turn may be.
    Length(usize),
}

/// The stretch of a bill in which a moment lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OnDeck {
    /// Place of the turn in the run.
    pub turn: usize,
    /// Hands on deck and below.
    pub hands: Hands,
    /// Seconds until the next turn begins.
    pub left_s: u32,
}

impl WatchBill {
    /// A checked bill.
    pub fn new(
        roles: &[Role],
        turns: &[DeckTurn],
        begins_unix_s: Option<i64>,
        overlap_min: u8,
    ) -> Result<Self, Refused> {
        let known = u32::try_from(roles.len()).unwrap_or(u32::MAX);
        let is_known = |turn: &DeckTurn| 8 - turn.on_deck.leading_zeros() <= known;
        if let Some(place) = turns.iter().position(|t| t.on_deck == 0 || !is_known(t)) {
            return Err(Refused::Nobody(place));
        }
        let lengths = LEAST_TURN_MIN..=MOST_TURN_MIN;
        if let Some(place) = turns.iter().position(|t| !lengths.contains(&t.minutes)) {
            return Err(Refused::Length(place));
        }
        let roles = Vec::from_slice(roles).map_err(|_| Refused::Roles)?;
        let turns = Vec::from_slice(turns).map_err(|_| Refused::Turns)?;
        if roles.is_empty() {
            return Err(Refused::Roles);
        }
        if turns.is_empty() {
            return Err(Refused::Turns);
        }
        Ok(WatchBill {
            roles,
            turns,
            begins_unix_s,
            overlap_s: u32::from(overlap_min) * 60,
        })
    }

    /// Its roles.
    pub fn roles(&self) -> &[Role] {
        &self.roles
    }

    /// Its turns.
    pub fn turns(&self) -> &[DeckTurn] {
        &self.turns
    }

    /// Seconds for which both watches are up at a change.
    pub fn overlap_s(&self) -> u32 {
        self.overlap_s
    }

    /// Seconds after which it repeats.
    pub fn cycle_s(&self) -> u32 {
        self.turns.iter().map(DeckTurn::seconds).sum()
    }

    /// The stretch so many seconds after the first turn began, or before.
    pub fn at(&self, since_first_s: i64) -> OnDeck {
        let cycle = i64::from(self.cycle_s().max(1));
        let mut into = since_first_s.rem_euclid(cycle) as u32;
        for (turn, each) in self.turns.iter().enumerate() {
            match into.checked_sub(each.seconds()) {
                Some(rest) => into = rest,
                None => {
                    return OnDeck {
                        turn,
                        hands: self.hands(each.on_deck),
                        left_s: each.seconds() - into,
                    };
                }
            }
        }
        // Not reached: `into` is less than all turns together.
        OnDeck {
            turn: 0,
            hands: self.hands(u8::MAX),
            left_s: 1,
        }
    }

    /// Hands while both the watch that leaves and the one that comes are up.
    pub fn hands_at_change(&self, leaves: usize, comes: usize) -> Hands {
        let roles = |turn: usize| self.turns.get(turn).map_or(0, |turn| turn.on_deck);
        self.hands(roles(leaves) | roles(comes))
    }

    fn hands(&self, on_deck: u8) -> Hands {
        let mut hands = Hands {
            on_deck: 0,
            below: 0,
        };
        for (place, role) in self.roles.iter().enumerate() {
            let side = match on_deck >> place & 1 {
                1 => &mut hands.on_deck,
                _ => &mut hands.below,
            };
            *side = side.saturating_add(role.hands);
        }
        hands
    }

    /// Seconds from the first turn's beginning to the beginning of a turn.
    fn begins_s(&self, turn: usize) -> i64 {
        self.turns
            .iter()
            .take(turn)
            .map(|turn| i64::from(turn.seconds()))
            .sum()
    }
}

impl DeckTurn {
    fn seconds(&self) -> u32 {
        u32::from(self.minutes) * 60
    }
}

/// Where in its watch bill the crew is.
///
/// ```text
///   unknown --- UTC and `begins` known, or "watch changed" --> running
///   running --- "watch changed": the nearest change is now --> running
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BillClock {
    /// When a first turn began, milliseconds of [`Timestamp`]; may lie before
    /// its start.
    first_ms: Option<i64>,
    /// The change that was last pressed for, or told of.
    changed: Option<Timestamp>,
}

impl BillClock {
    /// Takes the boat's clock, where the bill begins by it and no key has
    /// said otherwise.
    pub fn take_utc(&mut self, bill: &WatchBill, utc: Option<UtcFix>) {
        let (None, Some(begins), Some(fix)) = (self.changed, bill.begins_unix_s, utc) else {
            return;
        };
        let start_ms = fix.unix_ms_at(Timestamp::ZERO);
        self.first_ms = Some(begins.saturating_mul(1000).saturating_sub(start_ms));
    }

    /// The crew says that the watch has changed: the nearest change of the
    /// bill is now. Gives the hands from now on.
    pub fn changed(&mut self, bill: &WatchBill, now: Timestamp) -> Hands {
        let next = match self.since_first_s(now) {
            None => 0,
            Some(since) => {
                let here = bill.at(since);
                let length = bill.turns.get(here.turn).map_or(1, DeckTurn::seconds);
                let is_early = here.left_s <= length / 2;
                (here.turn + usize::from(is_early)) % bill.turns.len().max(1)
            }
        };
        let since_first_ms = bill.begins_s(next) * 1000;
        self.first_ms = Some((now.as_millis() as i64).saturating_sub(since_first_ms));
        self.changed = Some(now);
        bill.at(bill.begins_s(next)).hands
    }

    /// The bill so many seconds from now; none before it has been set going.
    pub fn ahead(&self, bill: &WatchBill, now: Timestamp, in_s: u32) -> Option<OnDeck> {
        let since = self.since_first_s(now)?;
        Some(bill.at(since.saturating_add(i64::from(in_s))))
    }

    /// Whether a change of the bill has come that nobody has pressed for:
    /// "watch changed?".
    pub fn is_change_due(&self, bill: &WatchBill, now: Timestamp) -> bool {
        let Some(since) = self.since_first_s(now) else {
            return false;
        };
        let here = bill.at(since);
        let length = bill.turns.get(here.turn).map_or(0, DeckTurn::seconds);
        let ago = Duration::from_secs(u64::from(length.saturating_sub(here.left_s)));
        let is_pressed = self
            .changed
            .is_some_and(|pressed| now.since(pressed) <= ago + Duration::from_secs(1));
        !is_pressed && bill.turns.len() > 1
    }

    fn since_first_s(&self, now: Timestamp) -> Option<i64> {
        let first = self.first_ms?;
        Some(
            (now.as_millis() as i64)
                .saturating_sub(first)
                .div_euclid(1000),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::text::text;
    use crate::time::UtcQuality;
    use proptest::prelude::*;

    fn role(name: &str, hands: u8) -> Role {
        Role {
            name: text(name),
            hands,
        }
    }

    fn turns(minutes: &[u16], roles: usize) -> std::vec::Vec<DeckTurn> {
        let each = minutes.iter().enumerate();
        each.map(|(place, minutes)| DeckTurn {
            minutes: *minutes,
            on_deck: 1 << (place % roles),
        })
        .collect()
    }

    fn two_handed() -> WatchBill {
        let roles = [role("skipper", 1), role("mate", 1)];
        WatchBill::new(&roles, &turns(&[180, 180], 2), None, 15).unwrap_or_default()
    }

    /// Common practice, no source: two watches, five turns a day, so that
    /// nobody has the same hours two days running.
    fn swedish(begins: Option<i64>) -> WatchBill {
        let day = [300, 360, 300, 240, 240];
        let two_days: std::vec::Vec<u16> = day.iter().chain(&day).copied().collect();
        let roles = [role("port", 2), role("starboard", 3)];
        WatchBill::new(&roles, &turns(&two_days, 2), begins, 15).unwrap_or_default()
    }

    fn at(seconds: u64) -> Timestamp {
        Timestamp::from_secs(seconds)
    }

    fn hands(on_deck: u8, below: u8) -> Hands {
        Hands { on_deck, below }
    }

    #[test]
    fn a_swedish_bill_repeats_after_two_days_and_swaps_after_one() {
        let bill = swedish(None);
        assert_eq!(bill.cycle_s(), 48 * 3600);
        assert_eq!(bill.at(0).hands, hands(2, 3));
        assert_eq!(bill.at(24 * 3600).hands, hands(3, 2));
        assert_eq!(bill.at(48 * 3600), bill.at(0));
        assert_eq!(bill.at(-1).left_s, 1);
    }

    #[test]
    fn three_watches_of_three_hours_need_not_fit_a_day() {
        let roles = [role("red", 2), role("white", 2), role("blue", 2)];
        let bill = WatchBill::new(&roles, &turns(&[180, 180, 180], 3), None, 15);
        let bill = bill.unwrap_or_default();
        assert_eq!(bill.cycle_s(), 9 * 3600);
        assert_eq!(bill.at(24 * 3600).turn, 2);
        assert_eq!(bill.at(24 * 3600).hands, hands(2, 4));
        assert_eq!(bill.hands_at_change(2, 0), hands(4, 2));
    }

    #[test]
    fn without_utc_one_press_sets_it_going_and_the_next_is_asked_for() {
        let (bill, mut clock) = (two_handed(), BillClock::default());
        assert_eq!(clock.ahead(&bill, at(100), 0), None);
        assert!(!clock.is_change_due(&bill, at(100)));
        assert_eq!(clock.changed(&bill, at(100)), hands(1, 1));
        let here = clock.ahead(&bill, at(100), 3600);
        assert_eq!(here.map(|it| (it.turn, it.left_s)), Some((0, 7200)));
        assert!(!clock.is_change_due(&bill, at(100 + 10_799)));
        assert!(clock.is_change_due(&bill, at(100 + 10_805)));
        clock.changed(&bill, at(100 + 10_860));
        assert!(!clock.is_change_due(&bill, at(100 + 10_900)));
        let here = clock.ahead(&bill, at(100 + 10_860), 0);
        assert_eq!(here.map(|it| (it.turn, it.left_s)), Some((1, 10_800)));
    }

    #[test]
    fn a_watch_relieved_early_moves_the_bill_to_the_next_turn() {
        let (bill, mut clock) = (swedish(None), BillClock::default());
        clock.changed(&bill, at(0));
        assert_eq!(clock.changed(&bill, at(5 * 3600 - 600)), hands(3, 2));
        let later = clock.ahead(&bill, at(5 * 3600 - 600), 6 * 3600);
        assert_eq!(later.map(|it| it.turn), Some(2));
    }

    #[test]
    fn with_utc_the_boat_file_sets_it_going() {
        let begins = 1_764_050_400;
        let (bill, mut clock) = (swedish(Some(begins)), BillClock::default());
        clock.take_utc(&bill, None);
        assert_eq!(clock.ahead(&bill, at(50), 0), None);
        let fix = UtcFix {
            unix_ms: (begins + 24 * 3600) * 1000,
            at: at(50),
            quality: UtcQuality::Gnss,
        };
        clock.take_utc(&bill, Some(fix));
        assert_eq!(clock.ahead(&bill, at(50), 0).map(|it| it.turn), Some(5));
        // A key goes before the clock.
        clock.changed(&bill, at(50 + 1800));
        clock.take_utc(&bill, Some(fix));
        let here = clock.ahead(&bill, at(50 + 1800), 0);
        assert_eq!(here.map(|it| (it.turn, it.left_s)), Some((5, 300 * 60)));
    }

    #[test]
    fn what_is_no_bill_is_refused_with_its_place() {
        let roles = [role("skipper", 1)];
        let refused =
            |roles: &[Role], turns: &[DeckTurn]| WatchBill::new(roles, turns, None, 15).err();
        let turn = |minutes, on_deck| DeckTurn { minutes, on_deck };
        assert_eq!(refused(&[], &[]), Some(Refused::Roles));
        assert_eq!(refused(&roles, &[]), Some(Refused::Turns));
        let unknown = [turn(60, 1), turn(60, 2)];
        assert_eq!(refused(&roles, &unknown), Some(Refused::Nobody(1)));
        assert_eq!(refused(&roles, &[turn(60, 0)]), Some(Refused::Nobody(0)));
        assert_eq!(refused(&roles, &[turn(5, 1)]), Some(Refused::Length(0)));
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(2000))]

        /// At every hour everybody is somewhere, and the hours go round.
        #[test]
        fn everybody_is_on_deck_or_below_at_every_hour(
            minutes in proptest::collection::vec(LEAST_TURN_MIN..=MOST_TURN_MIN, 1..=MAX_TURNS),
            numbers in proptest::collection::vec(0u8..5, 1..=MAX_ROLES),
            since in -10_000_000i64..10_000_000,
        ) {
            let roles: std::vec::Vec<Role> = numbers.iter().map(|n| role("r", *n)).collect();
            let bill = WatchBill::new(&roles, &turns(&minutes, roles.len()), None, 15);
            let bill = bill.map_err(|e| TestCaseError::fail(std::format!("{e:?}")))?;
            let here = bill.at(since);
            prop_assert_eq!(
                u32::from(here.hands.on_deck) + u32::from(here.hands.below),
                numbers.iter().map(|n| u32::from(*n)).sum::<u32>()
            );
            prop_assert!(here.left_s >= 1);
            prop_assert_eq!(here, bill.at(since + i64::from(bill.cycle_s())));
            let next = bill.at(since + i64::from(here.left_s));
            prop_assert_eq!(next.turn, (here.turn + 1) % bill.turns().len());
        }
    }
}
