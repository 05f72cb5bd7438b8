//! The one place that reads a clock.
//!
//! Three clocks look alike to the loop: the real one, the real one sped up,
//! and one that is wound by hand, as the demo does so that its time waits for
//! a slow machine instead of running away from it.

use std::time::{Duration, SystemTime, UNIX_EPOCH};

use cringle_core::time::{Timestamp, UtcFix, UtcQuality};
use tokio::sync::watch;
use tokio::time::Instant;

/// Tells what time it is, and waits.
#[derive(Clone, Debug)]
pub struct Clock(Kind);

#[derive(Clone, Debug)]
enum Kind {
    /// Runs by itself, `pace` times as fast as the wall's.
    Running { start: Instant, pace: f64 },
    /// Stands until it is wound.
    Wound(watch::Receiver<Timestamp>),
}

/// Winds a clock made by [`Clock::by_hand`].
#[derive(Clone, Debug)]
pub struct Winder(std::sync::Arc<watch::Sender<Timestamp>>);

impl Clock {
    /// The real time since now, in milliseconds.
    pub fn real() -> Clock {
        Clock::paced(1.0)
    }

    /// Time that runs `pace` times as fast as it does; below a thousandth or
    /// not a number, as fast as it does.
    pub fn paced(pace: f64) -> Clock {
        let pace = if pace > 0.001 { pace } else { 1.0 };
        Clock(Kind::Running {
            start: instant_now(),
            pace,
        })
    }

    /// A clock that stands at zero until it is wound.
    pub fn by_hand() -> (Winder, Clock) {
        let (hand, face) = watch::channel(Timestamp::ZERO);
        (Winder(hand.into()), Clock(Kind::Wound(face)))
    }

    /// What time it is.
    pub fn now(&self) -> Timestamp {
        match &self.0 {
            Kind::Running { start, pace } => {
                let millis = start_to(instant_now(), *start).as_secs_f64() * pace * 1000.0;
                Timestamp::from_millis(millis as u64)
            }
            Kind::Wound(face) => *face.borrow(),
        }
    }

    /// Comes back when it is `moment`, or later.
    pub async fn sleep_until(&self, moment: Timestamp) {
        match &self.0 {
            Kind::Running { start, pace } => {
                // Rounded up, so that it never wakes a millisecond too soon.
                let wall = (moment.as_millis() as f64 / pace).ceil() / 1000.0;
                tokio::time::sleep_until(*start + Duration::from_secs_f64(wall)).await;
            }
            Kind::Wound(face) => {
                let mut face = face.clone();
                if face.wait_for(|now| *now >= moment).await.is_err() {
                    // Nobody winds it any more: its time has ended.
                    std::future::pending::<()>().await;
                }
            }
        }
    }

    /// The computer's own idea of UTC, as a fix at this clock's time. None
    /// where this clock does not run as the world's does.
    pub fn system_utc(&self) -> Option<UtcFix> {
        match &self.0 {
            Kind::Running { pace, .. } if *pace == 1.0 => Some(UtcFix {
                unix_ms: system_unix_ms()?,
                at: self.now(),
                quality: UtcQuality::System,
            }),
            Kind::Running { .. } | Kind::Wound(_) => None,
        }
    }
}

impl Winder {
    /// Puts the clock forward; never back.
    pub fn wind_to(&self, moment: Timestamp) {
        self.0.send_if_modified(|now| {
            let forward = moment > *now;
            if forward {
                *now = moment;
            }
            forward
        });
    }
}

/// Unix milliseconds by the computer's clock, for the age of files and for
/// [`Clock::system_utc`]. A computer that has lost its battery thinks that it
/// is long ago: such a time is no time.
pub fn system_unix_ms() -> Option<i64> {
    // The one reading of the calendar.
    #[allow(clippy::disallowed_methods)]
    let since = SystemTime::now().duration_since(UNIX_EPOCH).ok()?;
    let unix_ms = i64::try_from(since.as_millis()).ok()?;
    (unix_ms > BEFORE_THIS_PROGRAM).then_some(unix_ms)
}

/// 2025-01-01 UTC: no computer that runs this program is older.
const BEFORE_THIS_PROGRAM: i64 = 1_735_689_600_000;

fn start_to(now: Instant, start: Instant) -> Duration {
    now.saturating_duration_since(start)
}

fn instant_now() -> Instant {
    // The one reading of the clock. Tokio's, so that its tests can stop it.
    #[allow(clippy::disallowed_methods)]
    Instant::now()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn a_sped_up_clock_wakes_when_its_own_time_has_come() {
        let clock = Clock::paced(60.0);
        let wall = Clock::real();
        clock.sleep_until(Timestamp::from_secs(120)).await;
        assert!(clock.now() >= Timestamp::from_secs(120));
        assert_eq!(wall.now(), Timestamp::from_secs(2));
    }

    #[tokio::test(start_paused = true)]
    async fn a_wound_clock_stands_until_it_is_wound_and_never_goes_back() {
        let (winder, clock) = Clock::by_hand();
        winder.wind_to(Timestamp::from_secs(5));
        winder.wind_to(Timestamp::from_secs(3));
        assert_eq!(clock.now(), Timestamp::from_secs(5));
        let late = clock.sleep_until(Timestamp::from_secs(9));
        tokio::pin!(late);
        tokio::select! {
            biased;
            () = &mut late => panic!("woke before its time"),
            () = std::future::ready(()) => {}
        }
        winder.wind_to(Timestamp::from_secs(9));
        late.await;
        assert_eq!(clock.now(), Timestamp::from_secs(9));
    }

    #[test]
    fn a_clock_that_is_not_the_worlds_gives_no_utc() {
        assert!(Clock::paced(30.0).system_utc().is_none());
        assert!(Clock::by_hand().1.system_utc().is_none());
    }
}
