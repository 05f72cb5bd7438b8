//! A disk in memory that knows what a power cut would leave of it.
//!
//! Bytes of a file last once the file was synced; a name, made, moved or removed,
//! once its directory was. Of what came later a cut keeps any beginning, as a
//! journaled file system may: some of the name changes in their order, and of each
//! file's unsynced bytes some, perhaps as noughts.

use std::collections::BTreeMap;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard};

use cringle::disk::{Disk, DiskFile};

use super::luck::Luck;

/// What is wrong with it at present.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) enum Trouble {
    #[default]
    None,
    /// Nothing more fits.
    Full,
    /// Nothing may be written.
    ReadOnly,
    /// Writes fail.
    Failing,
}

#[derive(Debug, Default)]
struct Inode {
    bytes: Vec<u8>,
    synced: usize,
}

#[derive(Clone, Debug)]
enum NameChange {
    Made(PathBuf, usize),
    Moved(PathBuf, PathBuf),
    Removed(PathBuf),
}

#[derive(Debug, Default)]
struct Inner {
    inodes: Vec<Inode>,
    names: BTreeMap<PathBuf, usize>,
    lasting: BTreeMap<PathBuf, usize>,
    pending: Vec<NameChange>,
    trouble: Trouble,
    /// Operations so far, for tests that cut the power at each.
    operations: u64,
    /// After so many the power is gone: nothing is done any more.
    dies_at: Option<u64>,
}

/// See the head of this file.
#[derive(Clone, Debug, Default)]
pub(crate) struct SimDisk(Arc<Mutex<Inner>>);

fn apply(names: &mut BTreeMap<PathBuf, usize>, change: &NameChange) {
    match change {
        NameChange::Made(path, inode) => drop(names.insert(path.clone(), *inode)),
        NameChange::Removed(path) => drop(names.remove(path)),
        NameChange::Moved(from, to) => {
            if let Some(inode) = names.remove(from) {
                names.insert(to.clone(), inode);
            }
        }
    }
}

impl Inner {
    /// One more operation, if the power is on and the disk takes it.
    fn write_allowed(&mut self) -> io::Result<()> {
        self.count()?;
        match self.trouble {
            Trouble::None => Ok(()),
            Trouble::Full => Err(io::ErrorKind::StorageFull.into()),
            Trouble::ReadOnly => Err(io::ErrorKind::ReadOnlyFilesystem.into()),
            Trouble::Failing => Err(io::Error::other("input/output error")),
        }
    }

    fn count(&mut self) -> io::Result<()> {
        if self.dies_at.is_some_and(|at| self.operations >= at) {
            return Err(io::Error::other("the power is gone"));
        }
        self.operations += 1;
        Ok(())
    }

    fn change(&mut self, change: NameChange) {
        apply(&mut self.names, &change);
        self.pending.push(change);
    }

    fn make(&mut self, path: &Path) -> usize {
        self.inodes.push(Inode::default());
        let inode = self.inodes.len() - 1;
        self.change(NameChange::Made(path.to_owned(), inode));
        inode
    }
}

impl SimDisk {
    pub(crate) fn set(&self, trouble: Trouble) {
        self.lock().trouble = trouble;
    }

    pub(crate) fn operations(&self) -> u64 {
        self.lock().operations
    }

    /// The power goes after so many operations.
    pub(crate) fn die_at(&self, operations: u64) {
        self.lock().dies_at = Some(operations);
    }

    /// What another start finds after a power cut.
    pub(crate) fn after_a_cut(&self, luck: &mut Luck) -> SimDisk {
        let inner = self.lock();
        let mut names = inner.lasting.clone();
        let kept = luck.below(inner.pending.len() as u64 + 1) as usize;
        inner
            .pending
            .iter()
            .take(kept)
            .for_each(|change| apply(&mut names, change));
        let mut after = Inner::default();
        for (path, inode) in names {
            let Some(old) = inner.inodes.get(inode) else {
                continue;
            };
            let loose = old.bytes.len() - old.synced;
            let torn = luck.below(loose as u64 + 1) as usize;
            let mut bytes = old.bytes[..old.synced + torn].to_vec();
            if luck.one_in(4) {
                // The length was written and the bytes were not.
                bytes[old.synced..].fill(0);
            }
            let synced = bytes.len();
            after.inodes.push(Inode { bytes, synced });
            let inode = after.inodes.len() - 1;
            after.names.insert(path.clone(), inode);
            after.lasting.insert(path, inode);
        }
        SimDisk(Arc::new(Mutex::new(after)))
    }

    /// Somebody deletes all there is.
    pub(crate) fn delete_all(&self) {
        let mut inner = self.lock();
        let paths: Vec<_> = inner.names.keys().cloned().collect();
        for path in paths {
            inner.change(NameChange::Removed(path));
        }
    }

    /// Names and contents, for readers.
    pub(crate) fn files(&self) -> Vec<(PathBuf, Vec<u8>)> {
        let inner = self.lock();
        let bytes = |inode: &usize| inner.inodes[*inode].bytes.clone();
        let files = inner.names.iter();
        files
            .map(|(path, inode)| (path.clone(), bytes(inode)))
            .collect()
    }

    fn lock(&self) -> MutexGuard<'_, Inner> {
        self.0.lock().unwrap()
    }
}

struct SimFile {
    disk: SimDisk,
    inode: usize,
}

impl Write for SimFile {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let mut inner = self.disk.lock();
        inner.write_allowed()?;
        inner.inodes[self.inode].bytes.extend_from_slice(bytes);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl DiskFile for SimFile {
    fn sync(&mut self) -> io::Result<()> {
        let mut inner = self.disk.lock();
        inner.write_allowed()?;
        let inode = &mut inner.inodes[self.inode];
        inode.synced = inode.bytes.len();
        Ok(())
    }

    fn size(&self) -> io::Result<u64> {
        Ok(self.disk.lock().inodes[self.inode].bytes.len() as u64)
    }

    fn last_byte(&mut self) -> io::Result<Option<u8>> {
        Ok(self.disk.lock().inodes[self.inode].bytes.last().copied())
    }
}

impl Disk for SimDisk {
    fn make_directory(&self, _: &Path) -> io::Result<()> {
        Ok(())
    }

    fn append(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut inner = self.lock();
        inner.write_allowed()?;
        let known = inner.names.get(path).copied();
        let inode = known.unwrap_or_else(|| inner.make(path));
        let disk = self.clone();
        Ok(Box::new(SimFile { disk, inode }))
    }

    fn create_new(&self, path: &Path) -> io::Result<Box<dyn DiskFile>> {
        let mut inner = self.lock();
        inner.write_allowed()?;
        if inner.names.contains_key(path) {
            return Err(io::ErrorKind::AlreadyExists.into());
        }
        let inode = inner.make(path);
        let disk = self.clone();
        Ok(Box::new(SimFile { disk, inode }))
    }

    fn read(&self, path: &Path) -> io::Result<Vec<u8>> {
        let inner = self.lock();
        let inode = inner.names.get(path).ok_or(io::ErrorKind::NotFound)?;
        Ok(inner.inodes[*inode].bytes.clone())
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        let mut inner = self.lock();
        inner.write_allowed()?;
        if !inner.names.contains_key(from) {
            return Err(io::ErrorKind::NotFound.into());
        }
        inner.change(NameChange::Moved(from.to_owned(), to.to_owned()));
        Ok(())
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        let mut inner = self.lock();
        if !inner.names.contains_key(path) {
            return Err(io::ErrorKind::NotFound.into());
        }
        inner.write_allowed()?;
        inner.change(NameChange::Removed(path.to_owned()));
        Ok(())
    }

    fn list(&self, directory: &Path) -> io::Result<Vec<(String, u64)>> {
        let inner = self.lock();
        let inside = inner
            .names
            .iter()
            .filter(|(path, _)| path.parent() == Some(directory));
        let sizes = inside.filter_map(|(path, inode)| {
            let name = path.file_name()?.to_str()?.to_owned();
            Some((name, inner.inodes[*inode].bytes.len() as u64))
        });
        Ok(sizes.collect())
    }

    fn is_there(&self, path: &Path) -> bool {
        self.lock().names.contains_key(path)
    }

    fn free_bytes(&self, _: &Path) -> io::Result<u64> {
        match self.lock().trouble {
            Trouble::Full => Ok(0),
            _ => Ok(u64::MAX),
        }
    }

    fn sync_directory(&self, directory: &Path) -> io::Result<()> {
        let mut inner = self.lock();
        inner.write_allowed()?;
        // The journal is one: what was changed before goes with it.
        let last = inner.pending.iter().rposition(|change| {
            let path = match change {
                NameChange::Made(path, _) | NameChange::Removed(path) => path,
                NameChange::Moved(_, to) => to,
            };
            path.parent() == Some(directory)
        });
        let done = last.map_or(0, |last| last + 1);
        let changes: Vec<_> = inner.pending.drain(..done).collect();
        for change in &changes {
            apply(&mut inner.lasting, change);
        }
        Ok(())
    }
}
