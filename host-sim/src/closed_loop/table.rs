//! The closed-loop table: every adviser through every weather, with few hands and many.

use core::fmt::Write;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use anyhow::{Context, Result};

use super::{Adviser, Tally, bounds, sail_with};
use crate::scenario::Scenario;

/// Makes the adviser a crew follows, fresh for each run.
pub struct Follows<'a> {
    /// What it is called in the table.
    pub name: &'a str,
    /// Makes one for a scenario.
    pub adviser: &'a (dyn Fn(&Scenario) -> Result<Box<dyn Adviser>> + Sync),
}

/// One line of the table.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Who was followed.
    pub follows: String,
    /// Hands aboard.
    pub hands: u8,
    /// The runs of each scenario.
    pub runs: Vec<Vec<Tally>>,
}

/// How differently each seed tells its story.
const VARY: f64 = 0.25;

/// Sails `scenarios` with every adviser, hands and seed, on all processors.
pub fn table(
    scenarios: &[&str],
    follows: &[Follows<'_>],
    hands: &[u8],
    seeds: u64,
) -> Result<Vec<Entry>> {
    let stories: Vec<Scenario> = scenarios
        .iter()
        .map(|name| Ok(Scenario::builtin(name)?.with_vary(VARY)))
        .collect::<Result<_>>()?;
    let mut entries = Vec::new();
    for &hands in hands {
        for follows in follows {
            entries.push(Entry {
                follows: follows.name.to_owned(),
                hands,
                runs: sail_all(&stories, follows, hands, seeds)?,
            });
        }
    }
    Ok(entries)
}

/// The table for people, as Markdown, with bounds by block bootstrap.
pub fn markdown(entries: &[Entry]) -> String {
    let mut text = String::from(
        "| crew follows | hands | hours | min past wind limit / 100 h | \
         min past heel limit / 100 h | needless reductions / 100 h | reductions / 100 h |\n\
         |---|---|---|---|---|---|---|\n",
    );
    for entry in entries {
        let cell = |count: fn(&Tally) -> f64| {
            let bounds = bounds(&entry.runs, count, 1);
            format!(
                "{:.1} ({:.1} to {:.1})",
                bounds.value, bounds.low, bounds.high
            )
        };
        let all = entry
            .runs
            .iter()
            .flatten()
            .fold(Tally::default(), Tally::and);
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "| {} | {} | {:.0} | {} | {} | {} | {} |",
            entry.follows,
            entry.hands,
            all.minutes / 60.0,
            cell(|tally| tally.over_wind_min),
            cell(|tally| tally.over_heel_min),
            cell(|tally| f64::from(tally.needless)),
            cell(|tally| f64::from(tally.reductions)),
        );
    }
    text
}

fn sail_all(
    stories: &[Scenario],
    follows: &Follows<'_>,
    hands: u8,
    seeds: u64,
) -> Result<Vec<Vec<Tally>>> {
    let jobs = stories.len() * seeds as usize;
    let next = AtomicUsize::new(0);
    // Filled by place and not by order of ending, so that threads change nothing.
    let done: Mutex<Vec<Option<Result<Tally>>>> = Mutex::new((0..jobs).map(|_| None).collect());
    let work = || {
        loop {
            let job = next.fetch_add(1, Ordering::Relaxed);
            if job >= jobs {
                break;
            }
            let story = stories[job % stories.len()].clone().with_hands(hands);
            let seed = 1 + (job / stories.len()) as u64;
            let tally = sail_one(story, seed, follows);
            if let Ok(mut done) = done.lock() {
                done[job] = Some(tally);
            }
        }
    };
    let workers = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(work);
        }
    });
    let done = done
        .into_inner()
        .unwrap_or_else(|poisoned| poisoned.into_inner());
    let mut runs = vec![Vec::new(); stories.len()];
    for (job, tally) in done.into_iter().enumerate() {
        runs[job % stories.len()].push(tally.context("a run did not end")??);
    }
    Ok(runs)
}

fn sail_one(story: Scenario, seed: u64, follows: &Follows<'_>) -> Result<Tally> {
    let mut adviser = (follows.adviser)(&story)
        .with_context(|| format!("{}: no adviser {}", story.name, follows.name))?;
    Ok(sail_with(story, seed, adviser.as_mut()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::closed_loop::Nobody;

    #[test]
    fn the_table_is_the_same_however_many_threads_made_it() {
        let nobody = Follows {
            name: "nobody",
            adviser: &|_| Ok(Box::new(Nobody)),
        };
        let make = || table(&["rising-breeze"], std::slice::from_ref(&nobody), &[2], 3);
        let (first, second) = (make().expect("made"), make().expect("made"));
        assert_eq!(first[0].runs, second[0].runs);
        assert_eq!(first[0].runs[0].len(), 3);
        let story = Scenario::builtin("rising-breeze")
            .expect("built in")
            .with_vary(VARY);
        let alone = sail_with(story.with_hands(2), 2, &mut Nobody);
        assert_eq!(first[0].runs[0][1], alone);
        assert!(markdown(&first).contains("| nobody | 2 | 2 |"));
    }
}
