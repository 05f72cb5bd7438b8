//! A day at sea, all of it decided by a seed: wind with some blows, the sentences
//! that tell it, and what the crew does. The same whether or not anything fails.

use cringle_core::ladder::PlanId;

use super::luck::Luck;

/// Seconds of a day.
pub(crate) const DAY: u64 = 86_400;

/// Through the water, kn.
const SPEED: f64 = 6.2;
/// Of the true wind to the bow, degrees.
const TWA: f64 = 60.0;

/// One rise and fall of the wind.
#[derive(Clone, Copy, Debug)]
struct Blow {
    begins: u64,
    rises_s: u64,
    lasts_s: u64,
    more_kn: f64,
}

impl Blow {
    fn kn(self, second: u64) -> f64 {
        let since = second.saturating_sub(self.begins) as f64;
        let rise = (since / self.rises_s as f64).min(1.0);
        let over = since - (self.rises_s + self.lasts_s) as f64;
        let fall = (over / self.rises_s as f64).clamp(0.0, 1.0);
        self.more_kn * (rise - fall)
    }
}

/// See the head of this file.
#[derive(Clone, Debug)]
pub(crate) struct Day {
    base_kn: f64,
    blows: Vec<Blow>,
    gust: Vec<f32>,
}

impl Day {
    pub(crate) fn new(seed: u64) -> Day {
        let mut luck = Luck::new(seed);
        let blows = (0..2 + luck.below(3)).map(|number| Blow {
            begins: number * DAY / 5 + luck.below(DAY / 6),
            rises_s: 1800 + luck.below(5400),
            lasts_s: luck.below(5400),
            more_kn: 5.0 + luck.below(18) as f64,
        });
        let blows = blows.collect();
        let base_kn = 8.0 + luck.below(4) as f64;
        let mut noise = 0.0;
        let gust: Vec<f32> = (0..DAY)
            .map(|_| {
                // A minute's memory, as turbulence near the water has (chosen by trial).
                noise += (luck.around() * 0.06) - noise / 30.0;
                noise as f32
            })
            .collect();
        Day {
            base_kn,
            blows,
            gust,
        }
    }

    fn mean_kn(&self, second: u64) -> f64 {
        self.base_kn + self.blows.iter().map(|blow| blow.kn(second)).sum::<f64>()
    }

    /// The sentences of this second.
    pub(crate) fn lines(&self, second: u64) -> Vec<String> {
        let gust = self.gust.get(second as usize).copied().unwrap_or_default();
        let kn = self.mean_kn(second) * (1.0 + f64::from(gust));
        let (sine, cosine) = TWA.to_radians().sin_cos();
        let (across, along) = (kn * sine, kn * cosine + SPEED);
        let awa = across.atan2(along).to_degrees();
        let aws = across.hypot(along);
        let mut lines = vec![seal(&format!("WIMWV,{awa:.1},R,{aws:.1},N,A"))];
        if second.is_multiple_of(3) {
            let knots = SPEED;
            lines.push(seal(&format!("VWVHW,080.0,T,084.0,M,{knots:.1},N,11.5,K")));
            lines.push(seal(&format!("YXXDR,A,{:.1},D,HEEL", kn * 0.9)));
        }
        if second.is_multiple_of(30) {
            lines.push(rmc(second, 12));
        }
        lines
    }

    /// What the crew sets by the hour: the plan that suits the wind of then.
    pub(crate) fn plan(&self, second: u64) -> PlanId {
        let limits = [14.0, 18.0, 23.0, 28.0];
        let kn = self.mean_kn(second);
        PlanId(limits.iter().filter(|limit| kn > **limit).count() as u8)
    }
}

/// A satellite fix on this day of an invented month.
pub(crate) fn rmc(second: u64, day: u64) -> String {
    let [hour, minute, rest] = [second / 3600 % 24, second / 60 % 60, second % 60];
    seal(&format!(
        "GPRMC,{hour:02}{minute:02}{rest:02}.00,A,4807.038,N,00531.000,W,6.4,084.4,{day:02}0626,,,A"
    ))
}

fn seal(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}")
}
