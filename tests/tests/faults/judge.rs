//! One seed's day twice: clean, and with what goes wrong; and what must hold between
//! the two.

use std::path::PathBuf;

use cringle::ports::What;
use cringle::recorder::lines::Entry;
use cringle::recorder::read::Recording;
use cringle_boat::BoatFile;
use cringle_core::act::Act;
use cringle_core::event::Call;
use cringle_core::ladder::PlanId;

use super::day::{DAY, Day};
use super::disk::{SimDisk, Trouble};
use super::luck::Luck;
use super::mishap::{Kind, Mishap, mishaps, through};
use super::world::{Program, Shown, plan_on, recordings};

/// A call may come so much later than in the clean run beside what was blind: two
/// whole minutes of means that were cut, for the wind is judged by those
/// (chosen by trial).
const SLACK_S: u64 = 120;
/// Blindness ends so long after its cause: a minute's mean and the time for which a
/// sensor that came back is doubted.
const BLIND_AFTER_S: u64 = 150;
/// What is wrong is shown so soon.
pub(crate) const SHOWN_IN_S: u64 = 10;
/// A power cut costs so much of the recording at most.
const PROMISED_S: u64 = 30;

/// Seconds and sizes in a fault's words change while it stands.
fn without_digits(words: &str) -> String {
    words
        .chars()
        .filter(|letter| !letter.is_ascii_digit())
        .collect()
}

/// One second of a run.
#[derive(Clone, Copy, Debug, Default)]
struct Second {
    level: u8,
    is_blind: bool,
    is_up: bool,
    is_warming: bool,
}

/// What came of a day with mishaps.
#[derive(Clone, Debug, Default)]
pub(crate) struct Verdict {
    pub(crate) tried: u64,
    pub(crate) restarts: u64,
    /// Seconds until it was shown, of each that must be.
    pub(crate) shown_s: Vec<u64>,
    /// Rises of the call in the clean run that were looked for.
    pub(crate) calls: u64,
    /// The most that a call came later than in the clean run.
    pub(crate) late_s: u64,
    /// What did not hold.
    pub(crate) broken: Vec<String>,
}

fn level(call: Call) -> u8 {
    match call {
        Call::None | Call::Blind => 0,
        Call::Prepare => 1,
        Call::Reduce => 2,
        Call::Past => 3,
    }
}

/// Plays a seed and judges it.
pub(crate) fn judge(boat_file: &BoatFile, seed: u64, length: u64) -> Verdict {
    let day = Day::new(seed);
    let mut clean = Run::new(boat_file, &day, Vec::new(), seed, length);
    clean.play();
    let mut faulty = Run::new(boat_file, &day, mishaps(seed), seed, length);
    faulty.play();
    let mut verdict = std::mem::take(&mut faulty.verdict);
    verdict
        .broken
        .extend(clean.verdict.broken.iter().map(|it| format!("clean: {it}")));
    compare(&clean.seconds, &faulty, &mut verdict);
    faulty.judge_recordings(&mut verdict);
    if !verdict.broken.is_empty() {
        // What went wrong before it: a seed is looked into by this.
        let told = faulty
            .mishaps
            .iter()
            .map(|it| format!("{:?} {}-{}", it.kind, it.from, it.until));
        verdict.broken.push(told.collect::<Vec<_>>().join(", "));
        let levels = |seconds: &[Second]| {
            let mut changes = Vec::new();
            for (second, pair) in seconds.windows(2).enumerate() {
                if pair[0].level != pair[1].level {
                    changes.push(format!("{}:{}", second + 1, pair[1].level));
                }
            }
            changes.join(" ")
        };
        verdict
            .broken
            .push(format!("clean {}", levels(&clean.seconds)));
        verdict
            .broken
            .push(format!("faulty {}", levels(&faulty.seconds)));
    }
    verdict
}

struct Run<'d> {
    boat_file: &'d BoatFile,
    day: &'d Day,
    mishaps: Vec<Mishap>,
    luck: Luck,
    length: u64,
    disk: SimDisk,
    seconds: Vec<Second>,
    verdict: Verdict,
    /// Lines handed over, by second.
    handed: u64,
    /// Plans in the order in which they were set; those that were surely kept.
    set: Vec<PlanId>,
    kept: usize,
    /// Lines that may be missing: not yet gone to the system when all ended.
    lines_excused: u64,
    /// Faults that stood before what goes wrong now.
    said_before: Vec<String>,
}

impl<'d> Run<'d> {
    fn new(
        boat_file: &'d BoatFile,
        day: &'d Day,
        mishaps: Vec<Mishap>,
        seed: u64,
        length: u64,
    ) -> Run<'d> {
        Run {
            boat_file,
            day,
            mishaps,
            luck: Luck::new(seed ^ 0x6c75_636b),
            length,
            disk: SimDisk::default(),
            seconds: Vec::new(),
            verdict: Verdict::default(),
            handed: 0,
            set: Vec::new(),
            kept: 0,
            lines_excused: 0,
            said_before: Vec::new(),
        }
    }

    fn play(&mut self) {
        let mut program = Some(Program::start(self.boat_file, &self.disk, 0));
        let mut wanted: Option<PlanId> = None;
        let mut unshown: Option<Mishap> = None;
        for second in 1..self.length {
            let now: Vec<_> = self
                .mishaps
                .iter()
                .copied()
                .filter(|it| it.is_on(second))
                .collect();
            self.turn_of_mishaps(second, &mut program, &mut unshown);
            if second % 3600 == 3000 {
                wanted = Some(self.day.plan(second));
            }
            let lines = self.day.lines(second);
            let lines = through(lines, &now, second, &mut self.luck);
            let Some(program) = &mut program else {
                self.seconds.push(Second::default());
                continue;
            };
            for line in &lines {
                program.line(second, line);
                self.handed += 1;
            }
            if let Some(plan) = wanted.take() {
                program.act(Act::Plan(plan));
                self.set.push(plan);
            } else if second.is_multiple_of(900) {
                program.act(Act::Acknowledge);
            }
            program.tick(second);
            let is_hung = now.iter().any(|it| it.kind == Kind::Hung);
            if !is_hung && program.write() {
                self.kept = self.set.len();
            }
            let shown = program.shown();
            self.note_shown(second, &mut unshown, &shown);
            self.seconds.push(Second {
                level: level(shown.call),
                is_blind: shown.is_blind,
                is_up: true,
                is_warming: shown.is_warming,
            });
        }
        if let Some(program) = program {
            program.end();
        }
    }

    fn turn_of_mishaps(
        &mut self,
        second: u64,
        program: &mut Option<Program>,
        unshown: &mut Option<Mishap>,
    ) {
        let Some(mishap) = self
            .mishaps
            .iter()
            .copied()
            .find(|it| it.from == second || it.until == second)
        else {
            return;
        };
        if mishap.from == second {
            self.verdict.tried += 1;
            *unshown = mishap.must_show().then_some(mishap);
        }
        let begins = mishap.from == second;
        match (mishap.kind, program) {
            (Kind::Unplugged, Some(program)) => program.news(
                second,
                match begins {
                    true => What::Closed("pulled".into()),
                    false => What::Open,
                },
            ),
            (Kind::Disk(trouble), _) => self.disk.set(if begins { trouble } else { Trouble::None }),
            (Kind::Deleted, _) if begins => {
                self.disk.delete_all();
                self.kept = self.kept.min(self.set.len());
                self.lines_excused = self.handed;
            }
            (Kind::Killed | Kind::PowerCut, program) if begins => {
                if let Some(program) = program.take() {
                    program.kill();
                }
                if mishap.kind == Kind::PowerCut {
                    self.disk = self.disk.after_a_cut(&mut self.luck);
                    self.lines_excused += PROMISED_S * 2;
                }
                // A second of lines may not have gone to the system.
                self.lines_excused += 4;
                self.judge_state(second);
            }
            (Kind::Killed | Kind::PowerCut, program) => {
                *program = Some(Program::start(self.boat_file, &self.disk, second));
                self.verdict.restarts += 1;
            }
            _ => {}
        }
    }

    /// The state that another start finds is the last that was kept, or a later one.
    fn judge_state(&mut self, second: u64) {
        if self.kept == 0 {
            return;
        }
        let may_be = &self.set[self.kept - 1..];
        match plan_on(&self.disk, self.boat_file) {
            Some(plan) if may_be.contains(&plan) => {}
            found => self.broken(second, &format!("state {found:?}, kept were {may_be:?}")),
        }
    }

    /// What is shown now and was not before it went wrong, or that numbers vanish.
    fn note_shown(&mut self, second: u64, unshown: &mut Option<Mishap>, shown: &Shown) {
        let said: Vec<String> = shown
            .faults
            .iter()
            .map(|fault| without_digits(fault))
            .collect();
        let Some(mishap) = *unshown else {
            self.said_before = said;
            return;
        };
        if !mishap.is_on(second) && mishap.kind != Kind::Deleted {
            *unshown = None;
            return;
        }
        let since = second - mishap.from;
        let is_new = said.iter().any(|fault| !self.said_before.contains(fault));
        if is_new || shown.is_blind {
            self.verdict.shown_s.push(since);
            *unshown = None;
        } else if since > SHOWN_IN_S {
            self.broken(second, &format!("{:?} not shown in {since} s", mishap.kind));
            *unshown = None;
        }
    }

    fn broken(&mut self, second: u64, what: &str) {
        self.verdict.broken.push(format!("second {second}: {what}"));
    }

    /// Every part reads up to a cut, and no more is missing than was said.
    fn judge_recordings(&self, verdict: &mut Verdict) {
        let directory = tempfile::tempdir().expect("no place for the recordings");
        let mut read = 0;
        let mut told_lost = 0;
        for (run, parts) in recordings(&self.disk) {
            let mut paths: Vec<PathBuf> = Vec::new();
            for (path, bytes) in parts {
                let path = directory.path().join(path.file_name().unwrap_or_default());
                std::fs::write(&path, bytes).expect("the recording cannot be written");
                paths.push(path);
            }
            let mut recording = match Recording::open(&paths) {
                Ok(recording) => recording,
                Err(error) => {
                    verdict
                        .broken
                        .push(format!("{run} cannot be opened: {error:#}"));
                    continue;
                }
            };
            if recording.head().is_err() {
                // The power went before its head was on the disk: nothing was in it.
                continue;
            }
            while let Ok(Some(entry)) = recording.input() {
                read += u64::from(matches!(entry, Entry::Heard { .. }));
            }
            told_lost += recording.damage().lost;
        }
        let disk_s: u64 = self.disk_seconds();
        let most_lines = 9;
        let excused = self.lines_excused * 3 + told_lost + disk_s * most_lines;
        if read + excused < self.handed {
            let missing = self.handed - read;
            verdict
                .broken
                .push(format!("{missing} lines missing, {excused} excused"));
        }
    }

    /// Seconds in which the disk refused or hung, and the retry after it.
    fn disk_seconds(&self) -> u64 {
        let troubles = self
            .mishaps
            .iter()
            .filter(|it| matches!(it.kind, Kind::Disk(_) | Kind::Hung | Kind::Deleted));
        troubles.map(|it| it.until - it.from + 90).sum()
    }
}

/// No call later than the clean run's by more than the blindness that was said, and
/// blindness only where it has a cause.
fn compare(clean: &[Second], faulty: &Run<'_>, verdict: &mut Verdict) {
    let seconds = &faulty.seconds;
    // Means and trends look back an hour; what is blind after the call counts too.
    let blind_about = |second: usize| {
        let end = (second + 1200).min(seconds.len());
        let about = seconds.get(second.saturating_sub(3600)..end);
        let is_said = |it: &&Second| it.is_blind || !it.is_up || it.is_warming;
        about.unwrap_or_default().iter().filter(is_said).count() as u64
    };
    for second in 1..clean.len() {
        let (before, now) = (clean[second - 1].level, clean[second].level);
        if now <= before {
            continue;
        }
        verdict.calls += 1;
        let allowed = SLACK_S + blind_about(second);
        let later = &seconds[second..(second + allowed as usize).min(seconds.len())];
        let ended = clean[second..].iter().position(|it| it.level < now);
        match later.iter().position(|it| it.level >= now) {
            Some(late) => verdict.late_s = verdict.late_s.max(late as u64),
            // A call of the clean run that was over by then is no call to miss.
            None if ended.is_some_and(|ended| ended < later.len()) => {}
            None => verdict.broken.push(format!(
                "second {second}: level {now} of the clean run not within {allowed} s"
            )),
        }
    }
    let has_cause = |second: u64| {
        let blinding = faulty.mishaps.iter().filter(|it| it.blinds());
        let mut blinding = blinding;
        second < BLIND_AFTER_S
            || blinding.any(|it| (it.from..it.until + BLIND_AFTER_S).contains(&second))
    };
    let blind = seconds.iter().enumerate().find(|(second, it)| {
        it.is_up && it.is_blind && !clean[*second].is_blind && !has_cause(*second as u64)
    });
    if let Some((second, _)) = blind {
        verdict
            .broken
            .push(format!("second {second}: blind without a cause"));
    }
}

/// Seconds of a whole day.
pub(crate) const WHOLE_DAY: u64 = DAY;
