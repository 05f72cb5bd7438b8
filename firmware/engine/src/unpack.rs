//! Files that may be gzipped, whatever their names.

use std::fs::File;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;

use anyhow::Context;
use flate2::bufread::MultiGzDecoder;

/// Opens a file for reading, unpacking it if it is gzipped, whatever its name.
pub fn open(path: &Path) -> anyhow::Result<Box<dyn BufRead + Send>> {
    let file = File::open(path).with_context(|| format!("{} cannot be read", path.display()))?;
    unpacked(BufReader::new(file)).with_context(|| format!("{} cannot be read", path.display()))
}

/// The same for any bytes.
pub(crate) fn unpacked(
    mut packed: impl BufRead + Send + 'static,
) -> std::io::Result<Box<dyn BufRead + Send>> {
    let gzipped = packed.fill_buf()?.starts_with(&[0x1f, 0x8b]);
    Ok(if gzipped {
        Box::new(BufReader::new(MultiGzDecoder::new(Sips(packed))))
    } else {
        Box::new(packed)
    })
}

/// Hands packed bytes on one by one. The unpacker keeps back all that it got
/// from a piece in which there is an error; so it keeps back nothing, and a
/// damaged file is read up to the damage itself.
struct Sips<R>(R);

impl<R: BufRead> Read for Sips<R> {
    fn read(&mut self, bytes: &mut [u8]) -> std::io::Result<usize> {
        self.0.read(bytes)
    }
}

impl<R: BufRead> BufRead for Sips<R> {
    fn fill_buf(&mut self) -> std::io::Result<&[u8]> {
        let bytes = self.0.fill_buf()?;
        Ok(bytes.get(..1).unwrap_or(bytes))
    }

    fn consume(&mut self, count: usize) {
        self.0.consume(count);
    }
}
