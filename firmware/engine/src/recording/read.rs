//! Reads recordings back: our own, part after part, and tells apart foreign
//! logs of bare lines.

use std::collections::VecDeque;
use std::io::BufRead;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use cringle_core::forecast::Table;
use cringle_core::time::Timestamp;

use super::lines::{Entry, FIRST_WORDS, FORMAT};
use crate::PortId;
use crate::unpack;

/// Longer lines are no lines of ours nor of NMEA 0183.
const LONGEST_LINE: usize = 64 * 1024;

/// A recording of either kind, read line by line.
pub struct Recording {
    files: VecDeque<PathBuf>,
    reader: Option<(PathBuf, Box<dyn BufRead + Send>)>,
    kind: Kind,
    put_back: Option<Vec<u8>>,
    place: Option<(u32, u32)>,
    parts_read: u32,
    /// Between the first line of a part and its start.
    in_head: bool,
    damage: Damage,
}

/// Whose recording it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// Our own: nothing else is needed to replay it.
    Own,
    /// Bare lines, whoever wrote them.
    Foreign,
}

/// What a recording says before its first input.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Head {
    /// The boat file's text.
    pub boat_file: Option<String>,
    /// The forecast it began with, where the head tells one or none.
    pub forecast: Option<Option<Table>>,
    /// Ports by number.
    pub ports: Vec<(PortId, String)>,
    /// Time at which the core began.
    pub start: Timestamp,
    /// The part it begins with; above 1 the beginning is missing.
    pub part: u32,
}

/// What could not be read.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Damage {
    /// Lines that were damaged.
    pub lines: u64,
    /// Inputs that the recorder itself could not write.
    pub lost: u64,
    /// Parts that are missing in between.
    pub parts: u32,
    /// Files that could not be unpacked to their end: cut off, as by a lost
    /// supply, or damaged. What was heard next may be missing.
    pub cut: u32,
}

/// Run and part of a recording of our own, from its first lines.
pub fn part_of(path: &Path) -> Option<(u32, u32)> {
    let mut recording = Recording::open(&[path.to_owned()]).ok()?;
    while let Some(entry) = recording.entry().ok()? {
        match entry {
            Entry::Part { run, part } => return Some((run, part)),
            Entry::Start(_) => break,
            _ => {}
        }
    }
    None
}

impl Recording {
    /// Opens the files in the order of their names, so that the parts of a
    /// run follow each other.
    pub fn open(paths: &[PathBuf]) -> anyhow::Result<Recording> {
        let mut files = paths.to_vec();
        files.sort();
        let mut recording = Recording {
            files: files.into(),
            reader: None,
            kind: Kind::Foreign,
            put_back: None,
            place: None,
            parts_read: 0,
            in_head: false,
            damage: Damage::default(),
        };
        let Some(first) = recording.raw_line()? else {
            bail!("{} holds no line", shown(paths));
        };
        if first.starts_with(FIRST_WORDS) {
            recording.kind = Kind::Own;
            match Entry::read(&first) {
                Some(Entry::Format(format)) if format > FORMAT => bail!(
                    "{} is a recording of format {format}, this program reads up to {FORMAT}",
                    shown(paths)
                ),
                Some(Entry::Format(_)) => {}
                _ => bail!("{}: its first line is damaged", shown(paths)),
            }
        } else {
            recording.put_back = Some(first);
        }
        Ok(recording)
    }

    /// Whose it is.
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// What could not be read so far.
    pub fn damage(&self) -> Damage {
        self.damage
    }

    /// Reads up to the first input of an own recording.
    pub fn head(&mut self) -> anyhow::Result<Head> {
        let mut head = Head::default();
        let mut boat = String::new();
        let mut is_whole = false;
        while let Some(entry) = self.entry()? {
            match entry {
                Entry::Part { run, part } => {
                    self.next_part(run, part)?;
                    head.part = part;
                }
                Entry::Port(port, name) => head.ports.push((port, name)),
                Entry::Boat(line) => {
                    boat.push_str(&line);
                    boat.push('\n');
                }
                Entry::Forecast(_, table) => head.forecast = Some(*table),
                Entry::Start(at) => {
                    head.start = at;
                    self.in_head = false;
                    is_whole = true;
                    break;
                }
                _ => {}
            }
        }
        head.boat_file = (!boat.is_empty()).then_some(boat);
        if !is_whole || self.damage.lines > 0 || self.damage.cut > 0 {
            bail!("the head of the recording is damaged: it cannot be replayed as it was");
        }
        Ok(head)
    }

    /// The next input of an own recording.
    pub fn input(&mut self) -> anyhow::Result<Option<Entry>> {
        while let Some(entry) = self.entry()? {
            match entry {
                Entry::Part { run, part } => self.next_part(run, part)?,
                // The inputs themselves have carried it over.
                Entry::Carried(..) if self.parts_read > 1 => {}
                // Each part's head tells the one that the run began with.
                Entry::Forecast(..) if self.in_head => {}
                Entry::Start(_) => self.in_head = false,
                Entry::Format(_) | Entry::Port(..) | Entry::Boat(_) => {}
                Entry::Lost(count) => self.damage.lost += count,
                input => return Ok(Some(input)),
            }
        }
        Ok(None)
    }

    /// The next line of a foreign log, without its line end.
    pub fn raw_line(&mut self) -> anyhow::Result<Option<Vec<u8>>> {
        if let Some(line) = self.put_back.take() {
            return Ok(Some(line));
        }
        loop {
            let Some((path, reader)) = &mut self.reader else {
                let Some(path) = self.files.pop_front() else {
                    return Ok(None);
                };
                let reader = unpack::open(&path)?;
                self.reader = Some((path, reader));
                continue;
            };
            match next_line(reader) {
                Ok(Some(line)) if line.is_empty() => {}
                Ok(Some(line)) => return Ok(Some(line)),
                Ok(None) => self.reader = None,
                // What was read before stands.
                Err(error) if is_cut(&error) => {
                    self.damage.cut += 1;
                    self.reader = None;
                }
                Err(error) => {
                    return Err(error).with_context(|| format!("reading {}", path.display()));
                }
            }
        }
    }

    fn entry(&mut self) -> anyhow::Result<Option<Entry>> {
        while let Some(line) = self.raw_line()? {
            match Entry::read(&line) {
                Some(entry) => return Ok(Some(entry)),
                None => self.damage.lines += 1,
            }
        }
        Ok(None)
    }

    fn next_part(&mut self, run: u32, part: u32) -> anyhow::Result<()> {
        match self.place {
            Some((same, before)) if same == run && part > before => {
                self.damage.parts += part - before - 1;
            }
            Some((other, _)) if other != run => {
                bail!("these are parts of run {other} and run {run}: replay one run at a time")
            }
            _ => {}
        }
        self.place = Some((run, part));
        self.parts_read += 1;
        self.in_head = true;
        Ok(())
    }
}

/// A last line without its line end counts: a foreign log may end so, and one
/// of ours that was cut off does not bear its sum.
fn next_line(reader: &mut dyn BufRead) -> std::io::Result<Option<Vec<u8>>> {
    let mut line = Vec::new();
    let mut limited = std::io::Read::take(reader, LONGEST_LINE as u64);
    if limited.read_until(b'\n', &mut line)? == 0 {
        return Ok(None);
    }
    while matches!(line.last(), Some(b'\n' | b'\r')) {
        line.pop();
    }
    Ok(Some(line))
}

/// Whether a packed file ends too soon, or is no longer what was packed, as
/// where a card gives noughts for what it had no time to keep.
fn is_cut(error: &std::io::Error) -> bool {
    use std::io::ErrorKind::{InvalidData, InvalidInput, UnexpectedEof};
    matches!(error.kind(), UnexpectedEof | InvalidInput | InvalidData)
}

fn shown(paths: &[PathBuf]) -> String {
    let names: Vec<_> = paths.iter().map(|p| p.display().to_string()).collect();
    names.join(", ")
}
