//! One file of a recording, gzipped as it is written.
//!
//! A flush ends a block of the packed stream on a whole byte, so that all
//! before it can be unpacked although the file's end is missing: a battery
//! that dies takes with it what came after the last flush, and no more. The
//! window of the packer goes on over a flush, which costs a twentieth in size
//! at one flush a second.

use std::io::{self, BufWriter, Write};
use std::path::Path;

use cringle_core::time::Timestamp;
use flate2::Compression;
use flate2::write::GzEncoder;

use super::disk::Packing;
use crate::disk::{Disk, DiskFile};

/// A part that is being written.
pub(super) struct Part {
    stream: Stream,
    /// Time of its first input.
    pub(super) began: Timestamp,
    /// Inputs that may still be in this program's own memory.
    pub(super) unflushed: u64,
    is_flushed: bool,
}

enum Stream {
    Gzip(GzEncoder<Counted>),
    Plain(Counted),
}

/// Counts what goes into the file.
struct Counted {
    file: BufWriter<Box<dyn DiskFile>>,
    bytes: u64,
}

impl Part {
    /// Begins a file that is not there yet.
    pub(super) fn create(
        disk: &dyn Disk,
        path: &Path,
        packing: Packing,
        began: Timestamp,
    ) -> io::Result<Part> {
        let file = Counted {
            file: BufWriter::new(disk.create_new(path)?),
            bytes: 0,
        };
        let stream = match packing {
            Packing::Gzip => Stream::Gzip(GzEncoder::new(file, Compression::default())),
            Packing::Plain => Stream::Plain(file),
        };
        Ok(Part {
            stream,
            began,
            unflushed: 0,
            is_flushed: true,
        })
    }

    /// Bytes of the file so far, as packed.
    pub(super) fn bytes(&self) -> u64 {
        self.file().bytes
    }

    pub(super) fn append(&mut self, line: &[u8]) -> io::Result<()> {
        self.is_flushed = false;
        match &mut self.stream {
            Stream::Gzip(packer) => packer.write_all(line),
            Stream::Plain(file) => file.write_all(line),
        }
    }

    /// To the system. Without anything new nothing is written: an empty block
    /// takes bytes too.
    pub(super) fn flush(&mut self) -> io::Result<()> {
        if !self.is_flushed {
            match &mut self.stream {
                Stream::Gzip(packer) => packer.flush()?,
                Stream::Plain(file) => file.flush()?,
            }
        }
        self.is_flushed = true;
        self.unflushed = 0;
        Ok(())
    }

    /// To the card.
    pub(super) fn sync(&mut self) -> io::Result<()> {
        self.flush()?;
        self.file_mut().file.get_mut().sync()
    }

    /// Ends the file in good order, on the card; tells its size.
    pub(super) fn close(self) -> io::Result<u64> {
        let mut file = match self.stream {
            Stream::Gzip(packer) => packer.finish()?,
            Stream::Plain(file) => file,
        };
        file.flush()?;
        file.file.get_mut().sync()?;
        Ok(file.bytes)
    }

    fn file_mut(&mut self) -> &mut Counted {
        match &mut self.stream {
            Stream::Gzip(packer) => packer.get_mut(),
            Stream::Plain(file) => file,
        }
    }

    fn file(&self) -> &Counted {
        match &self.stream {
            Stream::Gzip(packer) => packer.get_ref(),
            Stream::Plain(file) => file,
        }
    }
}

impl Write for Counted {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.file.write(bytes)?;
        self.bytes += written as u64;
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::disk::RealDisk;
    use crate::ports::PortId;
    use crate::recorder::lines::{Entry, FORMAT};
    use crate::recorder::read::{Damage, Recording};

    fn heard(number: u64) -> Entry {
        Entry::Heard {
            port: PortId(0),
            at: Timestamp::from_millis(137 * number),
            unix_ms: Some(1_764_050_000_123 + 137 * number as i64),
            line: format!("$WIMWV,{}.8,R,15.6,N,A*1E", number * 37 % 360).into_bytes(),
        }
    }

    fn append(part: &mut Part, numbers: std::ops::Range<u64>) {
        for number in numbers {
            part.append(&heard(number).write()).unwrap();
        }
    }

    /// A part that holds its head and has been flushed.
    fn begun(path: &Path, packing: Packing) -> Part {
        let mut part = Part::create(&RealDisk, path, packing, Timestamp::ZERO).unwrap();
        let head = [
            Entry::Format(FORMAT),
            Entry::Part { run: 1, part: 1 },
            Entry::Boat("name = \"Tern\"".into()),
            Entry::Start(Timestamp::ZERO),
        ];
        for entry in head {
            part.append(&entry.write()).unwrap();
        }
        part.flush().unwrap();
        part
    }

    /// How many inputs can be read, in their order, and what could not.
    #[track_caller]
    fn read(path: &Path) -> (u64, Damage) {
        let mut recording = Recording::open(&[path.to_owned()]).unwrap();
        recording.head().unwrap();
        let mut count = 0;
        while let Some(entry) = recording.input().unwrap() {
            assert_eq!(entry, heard(count));
            count += 1;
        }
        (count, recording.damage())
    }

    #[test]
    fn what_was_flushed_can_be_read_while_the_rest_is_still_to_come() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("part.log.gz");
        let mut part = begun(&path, Packing::Gzip);
        append(&mut part, 0..500);
        part.flush().unwrap();
        append(&mut part, 500..520);
        let cut = Damage {
            cut: 1,
            ..Damage::default()
        };
        assert_eq!(read(&path), (500, cut));
        part.close().unwrap();
        assert_eq!(read(&path), (520, Damage::default()));
    }

    #[test]
    fn wherever_it_is_cut_all_that_was_flushed_before_is_read_and_the_cut_is_told() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("part.log.gz");
        let mut part = begun(&path, Packing::Gzip);
        let head = part.bytes();
        let mut flushed = Vec::new();
        for second in 0..8 {
            append(&mut part, second * 20..(second + 1) * 20);
            part.flush().unwrap();
            flushed.push((part.bytes(), (second + 1) * 20));
        }
        let size = part.close().unwrap();
        let whole = std::fs::read(&path).unwrap();
        assert_eq!(whole.len() as u64, size);
        let cut = directory.path().join("cut.log.gz");
        for length in head..size {
            let sure = flushed.iter().rfind(|(bytes, _)| *bytes <= length);
            let sure = sure.map_or(0, |(_, count)| *count);
            let kept = &whole[..length as usize];
            std::fs::write(&cut, kept).unwrap();
            let (count, damage) = read(&cut);
            assert!(
                count >= sure && damage.cut == 1,
                "{length}: {count} {damage:?}"
            );
            // Half a line counts as damaged only where it was unpacked.
            assert!(damage.lines <= 1, "{length}: {damage:?}");
        }
    }

    #[test]
    fn a_tail_of_noughts_is_a_cut() {
        let directory = tempfile::tempdir().unwrap();
        let path = directory.path().join("part.log.gz");
        let mut part = begun(&path, Packing::Gzip);
        append(&mut part, 0..500);
        part.flush().unwrap();
        let sure = part.bytes() as usize;
        append(&mut part, 500..600);
        part.close().unwrap();
        let mut bytes = std::fs::read(&path).unwrap();
        bytes[sure..].fill(0);
        std::fs::write(&path, bytes).unwrap();
        let (count, damage) = read(&path);
        assert_eq!(damage.cut, 1);
        assert_eq!(count, 500);
    }

    #[test]
    fn a_flush_without_anything_new_writes_nothing() {
        let directory = tempfile::tempdir().unwrap();
        let mut part = begun(&directory.path().join("part.log.gz"), Packing::Gzip);
        let before = part.bytes();
        part.flush().unwrap();
        part.sync().unwrap();
        assert_eq!(part.bytes(), before);
    }

    #[test]
    fn a_head_that_is_cut_is_refused() {
        let directory = tempfile::tempdir().unwrap();
        for packing in [Packing::Gzip, Packing::Plain] {
            let path = directory.path().join(format!("{packing:?}"));
            let mut part = begun(&path, packing);
            append(&mut part, 0..5);
            part.close().unwrap();
            let bytes = std::fs::read(&path).unwrap();
            std::fs::write(&path, &bytes[..60]).unwrap();
            let mut recording = Recording::open(&[path]).unwrap();
            let refused = recording.head().unwrap_err().to_string();
            assert!(refused.contains("head"), "{refused}");
        }
    }
}
