//! Where sentences go: pseudo-terminals, network, files.
//!
//! A target is written `[LINE=]KIND[:WHERE]`: `pty:/tmp/boat/` makes one
//! terminal for each line in a folder, `mast=pty:/tmp/mast` one for one line,
//! `tcp:127.0.0.1:4001`, `udp:127.0.0.1:4002`, `file:PATH` and `-` take all
//! lines unless one is named.

mod net;
mod pty;

use std::fs::File;
use std::io::{BufWriter, Write, stdout};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use anyhow::{Context, Result, bail};

pub use net::{TcpServer, UdpSender};
pub use pty::Pty;

use crate::faults::Link;
use crate::instruments::{LinePlan, Sentence};

/// A target as written on the command line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Target {
    /// The only line that goes there, or all.
    pub line: Option<String>,
    /// What it is.
    pub kind: TargetKind,
}

/// What a target is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TargetKind {
    /// One pseudo-terminal for each line, in this folder.
    PtyFolder(PathBuf),
    /// A pseudo-terminal at this path.
    Pty(PathBuf),
    /// A TCP server at HOST:PORT.
    Tcp(String),
    /// Datagrams to HOST:PORT.
    Udp(String),
    /// A file.
    File(PathBuf),
    /// Standard output.
    Stdout,
}

impl FromStr for Target {
    type Err = anyhow::Error;

    fn from_str(text: &str) -> Result<Self> {
        let (line, rest) = match text.split_once('=') {
            Some((line, rest)) if !line.contains([':', '/']) => (Some(line.to_owned()), rest),
            _ => (None, text),
        };
        let kind = match rest.split_once(':').unwrap_or((rest, "")) {
            ("-", "") => TargetKind::Stdout,
            ("pty", "") => bail!("pty wants a path: pty:/tmp/boat/ or pty:/tmp/mast"),
            ("pty", path) if path.ends_with('/') => TargetKind::PtyFolder(path.into()),
            ("pty", path) => TargetKind::Pty(path.into()),
            ("tcp", address) if !address.is_empty() => TargetKind::Tcp(address.to_owned()),
            ("udp", address) if !address.is_empty() => TargetKind::Udp(address.to_owned()),
            ("file", path) if !path.is_empty() => TargetKind::File(path.into()),
            _ => bail!("unknown target {text:?}, expected pty:, tcp:, udp:, file: or -"),
        };
        Ok(Self { line, kind })
    }
}

/// All targets of a passage, opened.
pub struct Sinks {
    sinks: Vec<(Option<usize>, Sink)>,
    links: Vec<Link>,
}

enum Sink {
    Pty(Pty),
    Tcp(TcpServer),
    Udp(UdpSender),
    Stream(Box<dyn Write + Send>),
}

impl Sinks {
    /// Opens every target for these lines.
    pub fn open(targets: &[Target], lines: &[LinePlan]) -> Result<Self> {
        let mut sinks = Vec::new();
        for target in targets {
            let line = match &target.line {
                Some(name) => Some(
                    lines
                        .iter()
                        .position(|line| line.name == *name)
                        .with_context(|| format!("the scenario has no line {name:?}"))?,
                ),
                None => None,
            };
            match &target.kind {
                TargetKind::PtyFolder(folder) => open_folder(folder, line, lines, &mut sinks)?,
                kind => sinks.push((line, open(kind)?)),
            }
        }
        Ok(Self {
            sinks,
            links: vec![Link::Up; lines.len()],
        })
    }

    /// Sends a sentence to every target that takes its line.
    pub fn write(&mut self, sentence: &Sentence) -> Result<()> {
        for (line, sink) in &mut self.sinks {
            if line.is_none_or(|line| line == sentence.line) {
                sink.write(&sentence.bytes)?;
            }
        }
        Ok(())
    }

    /// Pulls plugs and puts them back in, as the passage wants it. A target
    /// that takes all lines stays up.
    pub fn set_links<'a>(&mut self, links: impl Iterator<Item = (&'a str, Link)>) -> Result<()> {
        for (index, (_, link)) in links.enumerate() {
            let Some(known) = self.links.get_mut(index) else {
                continue;
            };
            if *known == link {
                continue;
            }
            *known = link;
            for (line, sink) in &mut self.sinks {
                if *line == Some(index) {
                    sink.set_link(link)?;
                }
            }
        }
        Ok(())
    }

    /// Writes out what is buffered.
    pub fn flush(&mut self) -> Result<()> {
        for (_, sink) in &mut self.sinks {
            if let Sink::Stream(stream) = sink {
                stream.flush()?;
            }
        }
        Ok(())
    }

    /// One line for each target, for people.
    pub fn describe(&self, lines: &[LinePlan]) -> Vec<String> {
        self.sinks
            .iter()
            .map(|(line, sink)| {
                let line = line.and_then(|line| lines.get(line));
                let name = line.map_or("all lines", |line| line.name.as_str());
                format!("{name}: {}", sink.describe())
            })
            .collect()
    }
}

impl Sink {
    fn write(&mut self, bytes: &[u8]) -> Result<()> {
        match self {
            Sink::Pty(pty) => pty.write(bytes),
            Sink::Tcp(server) => server.write(bytes),
            Sink::Udp(sender) => sender.write(bytes),
            Sink::Stream(stream) => stream.write_all(bytes).context("cannot write"),
        }
    }

    fn set_link(&mut self, link: Link) -> Result<()> {
        match (self, link) {
            (Sink::Pty(pty), Link::Unplugged) => pty.pull_out(),
            (Sink::Pty(pty), Link::Up | Link::HalfOpen) => pty.plug_in()?,
            (Sink::Tcp(server), link) => server.set_link(link)?,
            (Sink::Udp(_) | Sink::Stream(_), _) => {}
        }
        Ok(())
    }

    fn describe(&self) -> String {
        match self {
            Sink::Pty(pty) => pty.path().display().to_string(),
            Sink::Tcp(server) => format!("tcp {}", server.address()),
            Sink::Udp(_) => "udp".to_owned(),
            Sink::Stream(_) => "stream".to_owned(),
        }
    }
}

fn open(kind: &TargetKind) -> Result<Sink> {
    Ok(match kind {
        TargetKind::Pty(path) | TargetKind::PtyFolder(path) => Sink::Pty(Pty::new(path)?),
        TargetKind::Tcp(address) => Sink::Tcp(TcpServer::new(address)?),
        TargetKind::Udp(address) => Sink::Udp(UdpSender::new(address)?),
        TargetKind::File(path) => {
            let file =
                File::create(path).with_context(|| format!("{}: cannot create", path.display()))?;
            Sink::Stream(Box::new(BufWriter::new(file)))
        }
        TargetKind::Stdout => Sink::Stream(Box::new(BufWriter::new(stdout()))),
    })
}

fn open_folder(
    folder: &Path,
    only: Option<usize>,
    lines: &[LinePlan],
    sinks: &mut Vec<(Option<usize>, Sink)>,
) -> Result<()> {
    std::fs::create_dir_all(folder)
        .with_context(|| format!("{}: cannot make the folder", folder.display()))?;
    for (index, line) in lines.iter().enumerate() {
        if only.is_none_or(|only| only == index) {
            let pty = Pty::new(&folder.join(&line.name))?;
            sinks.push((Some(index), Sink::Pty(pty)));
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn targets_are_read_as_written() {
        let target = |text: &str| text.parse::<Target>().expect("a target");
        assert_eq!(target("-").kind, TargetKind::Stdout);
        assert_eq!(
            target("pty:/tmp/boat/").kind,
            TargetKind::PtyFolder("/tmp/boat/".into())
        );
        let mast = target("mast=tcp:127.0.0.1:4001");
        assert_eq!(mast.line.as_deref(), Some("mast"));
        assert_eq!(mast.kind, TargetKind::Tcp("127.0.0.1:4001".to_owned()));
        // A path may hold an equals sign.
        assert_eq!(
            target("file:/tmp/a=b").kind,
            TargetKind::File("/tmp/a=b".into())
        );
        assert!("serial:/dev/x".parse::<Target>().is_err());
        assert!("pty".parse::<Target>().is_err());
    }

    #[test]
    fn each_line_of_a_boat_gets_its_own_terminal() {
        let folder = tempfile::tempdir().expect("a folder");
        let text = format!("pty:{}/", folder.path().display());
        let lines: Vec<_> = ["mast", "nav"]
            .map(|name| LinePlan {
                name: name.to_owned(),
                baud: 4800,
            })
            .to_vec();
        let mut sinks = Sinks::open(&[text.parse().expect("a target")], &lines).expect("opened");
        assert!(folder.path().join("mast").exists());
        let links = [("mast", Link::Unplugged), ("nav", Link::Up)];
        sinks.set_links(links.into_iter()).expect("unplugged");
        assert!(!folder.path().join("mast").exists());
        assert!(folder.path().join("nav").exists());
        sinks
            .set_links([("mast", Link::Up)].into_iter())
            .expect("plugged in");
        assert!(folder.path().join("mast").exists());
    }
}
