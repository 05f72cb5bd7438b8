//! What a board file needs of the computer, and what of that is missing.
//!
//! Nothing is opened, so it may be asked while the monitor runs. Whether a
//! chip answers on its bus only the monitor itself can tell.

use std::collections::BTreeSet;
use std::fs::{self, Metadata};
use std::os::unix::fs::{FileTypeExt, MetadataExt};
use std::path::{Path, PathBuf};

use super::{BoardFile, ChipSpec, LineName};

/// One thing missing, and how to mend it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing {
    /// What is missing.
    pub what: String,
    /// What to do about it.
    pub mend: String,
}

impl core::fmt::Display for Missing {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "{}: {}", self.what, self.mend)
    }
}

/// Who will open the devices.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Account {
    /// Number of the user.
    pub user: u32,
    /// Numbers of its groups.
    pub groups: Vec<u32>,
}

impl Account {
    /// The account this program runs under.
    pub fn current() -> std::io::Result<Account> {
        let status = fs::read_to_string("/proc/self/status")?;
        let numbers = |label: &str| -> Vec<u32> {
            let line = status.lines().find_map(|line| line.strip_prefix(label));
            line.map_or_else(Vec::new, |line| {
                line.split_whitespace()
                    .filter_map(|word| word.parse().ok())
                    .collect()
            })
        };
        // Each of the first two lines is real, effective, saved, file system.
        let effective = |label| numbers(label).get(1).copied().unwrap_or(u32::MAX);
        let mut groups = numbers("Groups:");
        groups.push(effective("Gid:"));
        Ok(Account {
            user: effective("Uid:"),
            groups,
        })
    }

    /// A named account as `etc/passwd` and `etc/group` under `root` have it,
    /// such as the one the service will run under.
    pub fn named(name: &str, root: &Path) -> Option<Account> {
        let passwd = fs::read_to_string(root.join("etc/passwd")).ok()?;
        let entry: Vec<&str> = passwd
            .lines()
            .map(|line| line.split(':').collect::<Vec<_>>())
            .find(|fields| fields.first() == Some(&name))?;
        let mut groups = vec![entry.get(3)?.parse().ok()?];
        for group in groups_of(root) {
            if group.members.iter().any(|member| member == name) {
                groups.push(group.number);
            }
        }
        Some(Account {
            user: entry.get(2)?.parse().ok()?,
            groups,
        })
    }
}

/// What is missing for the account that runs this program.
pub fn missing(board: &BoardFile, root: &Path) -> Vec<Missing> {
    match Account::current() {
        Ok(account) => missing_for(board, root, &account),
        Err(error) => vec![Missing {
            what: format!("cannot tell which account this is: {error}"),
            mend: "mount /proc".into(),
        }],
    }
}

/// What is missing for an account, with devices and groups under `root`.
pub fn missing_for(board: &BoardFile, root: &Path, account: &Account) -> Vec<Missing> {
    needs(board)
        .iter()
        .filter_map(|need| need.missing(root, account))
        .collect()
}

/// A device node that must be there and open for reading and writing.
struct Need {
    node: PathBuf,
    for_what: String,
    group: &'static str,
    when_absent: &'static str,
}

const NO_I2C: &str = "switch I2C on (on many boards `dtparam=i2c_arm=on` in config.txt, else the \
                      board's overlay tool), see that module i2c-dev is loaded, then restart";
const NO_SPI: &str = "switch SPI on with its spidev overlay (on many boards `dtparam=spi=on` in \
                      config.txt, else the board's overlay tool), then restart";
const NO_GPIO: &str = "see which chips there are with `ls /dev/gpiochip*` and name one of them, or \
                       better name the line itself, as `gpioinfo` lists it";
const NO_SERIAL: &str = "plug the adapter in; for a name under /dev/cringle see the udev rules in \
                         the wiring sheet, and for a UART of the board switch it on and take the \
                         console off it";

/// Every device node of the board, each once.
fn needs(board: &BoardFile) -> Vec<Need> {
    let mut needs = Vec::new();
    if let Some(panel) = &board.panel {
        let (group, when_absent) = match panel.chip {
            ChipSpec::Oled { .. } => ("i2c", NO_I2C),
            ChipSpec::Tft { .. } | ChipSpec::Paper { .. } => ("spi", NO_SPI),
        };
        needs.push(Need {
            node: panel.bus.clone(),
            for_what: "the panel".into(),
            group,
            when_absent,
        });
    }
    for port in &board.serial {
        needs.push(Need {
            node: port.device.clone(),
            for_what: format!("serial port {}", port.name),
            group: "dialout",
            when_absent: NO_SERIAL,
        });
    }
    let chips = board.lines().into_iter().map(|(what, line)| match line {
        // A named line is on some chip: the first one stands for them all.
        LineName::Named(_) => ("gpiochip0".to_string(), what),
        LineName::Numbered { chip, .. } => (chip.clone(), what),
    });
    let mut seen = BTreeSet::new();
    for (chip, for_what) in chips {
        if seen.insert(chip.clone()) {
            needs.push(Need {
                node: Path::new("/dev").join(chip),
                for_what: format!("{for_what} and other lines"),
                group: "gpio",
                when_absent: NO_GPIO,
            });
        }
    }
    needs
}

impl Need {
    fn missing(&self, root: &Path, account: &Account) -> Option<Missing> {
        let node = self.node.display();
        let under_root = root.join(self.node.strip_prefix("/").unwrap_or(&self.node));
        let metadata = match fs::metadata(&under_root) {
            Ok(metadata) => metadata,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Some(Missing {
                    what: format!("{node} for {} is not there", self.for_what),
                    mend: self.when_absent.into(),
                });
            }
            Err(error) => {
                return Some(Missing {
                    what: format!("{node} for {} cannot be looked at: {error}", self.for_what),
                    mend: "run as root to see why".into(),
                });
            }
        };
        if !metadata.file_type().is_char_device() {
            return Some(Missing {
                what: format!("{node} for {} is not a device", self.for_what),
                mend: "remove what lies in its place and restart".into(),
            });
        }
        let permission = Permission::of(&metadata);
        (!permission.lets(account)).then(|| self.no_access(&permission, root))
    }

    fn no_access(&self, permission: &Permission, root: &Path) -> Missing {
        let node = self.node.display();
        let what = format!("{node} for {} may not be opened", self.for_what);
        if !permission.group_may() {
            return Missing {
                what,
                mend: format!(
                    "its group may not use it; install cringle's udev rules, which give it to \
                     group {}, then `sudo udevadm trigger`",
                    self.group
                ),
            };
        }
        let group = groups_of(root)
            .into_iter()
            .find(|group| group.number == permission.group)
            .map_or_else(|| permission.group.to_string(), |group| group.name);
        Missing {
            what,
            mend: format!(
                "put the account in group {group}, `sudo usermod -aG {group} ACCOUNT`, and log \
                 in again (the service's account is in it already)"
            ),
        }
    }
}

/// Who may open a node.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Permission {
    mode: u32,
    user: u32,
    group: u32,
}

impl Permission {
    fn of(metadata: &Metadata) -> Self {
        Permission {
            mode: metadata.mode(),
            user: metadata.uid(),
            group: metadata.gid(),
        }
    }

    /// Read and write, by the first class that fits, as the kernel judges.
    fn lets(&self, account: &Account) -> bool {
        if account.user == 0 {
            return true;
        }
        let both = if account.user == self.user {
            0o600
        } else if account.groups.contains(&self.group) {
            0o060
        } else {
            0o006
        };
        self.mode & both == both
    }

    fn group_may(&self) -> bool {
        self.mode & 0o060 == 0o060 && self.group != 0
    }
}

struct Group {
    name: String,
    number: u32,
    members: Vec<String>,
}

fn groups_of(root: &Path) -> Vec<Group> {
    let text = fs::read_to_string(root.join("etc/group")).unwrap_or_default();
    text.lines()
        .filter_map(|line| {
            let mut fields = line.split(':');
            let name = fields.next()?.to_string();
            let number = fields.nth(1)?.parse().ok()?;
            let members = fields.next().unwrap_or_default();
            let members = members.split(',').map(str::to_string).collect();
            Some(Group {
                name,
                number,
                members,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;

    const BOARD: &str = r#"
format = 1
name = "bench"
[panel]
chip = "ssd1306"
bus = "/dev/i2c-1"
width_mm = 22
height_mm = 11
read_from_m = 0.5
[[key]]
name = "middle"
line = "gpiochip0:5"
[[key]]
name = "left"
line = "gpiochip0:6"
[[serial]]
name = "mast"
device = "/dev/cringle/mast"
"#;

    fn board() -> BoardFile {
        BoardFile::parse("board.toml", BOARD).unwrap()
    }

    fn nobody() -> Account {
        Account {
            user: 65534,
            groups: vec![65534],
        }
    }

    /// A root with these nodes, each a link to a device all may open.
    fn root(nodes: &[&str]) -> tempfile::TempDir {
        let root = tempfile::tempdir().unwrap();
        for node in nodes {
            let path = root.path().join(node);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            symlink("/dev/null", path).unwrap();
        }
        root
    }

    fn whats(root: &tempfile::TempDir) -> Vec<String> {
        missing_for(&board(), root.path(), &nobody())
            .into_iter()
            .map(|missing| missing.what)
            .collect()
    }

    #[test]
    fn nothing_is_missing_when_all_is_there() {
        let root = root(&["dev/i2c-1", "dev/cringle/mast", "dev/gpiochip0"]);
        assert_eq!(whats(&root), [] as [&str; 0]);
    }

    #[test]
    fn each_absent_node_is_told_once_with_what_it_is_for() {
        assert_eq!(
            whats(&root(&[])),
            [
                "/dev/i2c-1 for the panel is not there",
                "/dev/cringle/mast for serial port mast is not there",
                "/dev/gpiochip0 for key middle and other lines is not there",
            ]
        );
    }

    #[test]
    fn a_plain_file_in_place_of_a_device_is_told() {
        let root = root(&["dev/i2c-1", "dev/cringle/mast"]);
        fs::write(root.path().join("dev/gpiochip0"), "").unwrap();
        assert_eq!(
            whats(&root),
            ["/dev/gpiochip0 for key middle and other lines is not a device"]
        );
    }

    #[test]
    fn the_first_class_that_fits_decides() {
        let node = Permission {
            mode: 0o20_660,
            user: 0,
            group: 44,
        };
        let member = Account {
            user: 1000,
            groups: vec![1000, 44],
        };
        assert!(node.lets(&member));
        assert!(!node.lets(&nobody()));
        let owned = Permission {
            mode: 0o20_066,
            user: 1000,
            group: 44,
        };
        assert!(!owned.lets(&member), "the owner's bits come first");
    }

    #[test]
    fn without_access_the_group_to_join_is_named() {
        let root = tempfile::tempdir().unwrap();
        fs::create_dir(root.path().join("etc")).unwrap();
        fs::write(
            root.path().join("etc/group"),
            "root:x:0:\ni2c:x:44:pi,hand\n",
        )
        .unwrap();
        let needs = needs(&board());
        let locked = |group| Permission {
            mode: 0o20_660,
            user: 0,
            group,
        };
        let in_group = needs[0].no_access(&locked(44), root.path());
        assert!(in_group.mend.contains("usermod -aG i2c"), "{in_group}");
        let roots_own = needs[0].no_access(&locked(0), root.path());
        assert!(roots_own.mend.contains("udev rules"), "{roots_own}");
    }

    #[test]
    fn the_account_of_the_service_is_read_from_the_root() {
        let root = tempfile::tempdir().unwrap();
        fs::create_dir(root.path().join("etc")).unwrap();
        let passwd = "cringle:x:990:980:Cringle:/var/lib/cringle:/usr/sbin/nologin\n";
        fs::write(root.path().join("etc/passwd"), passwd).unwrap();
        fs::write(
            root.path().join("etc/group"),
            "cringle:x:980:\ni2c:x:44:pi,cringle\nspi:x:45:pi\n",
        )
        .unwrap();
        let account = Account::named("cringle", root.path()).unwrap();
        assert_eq!((account.user, account.groups), (990, vec![980, 44]));
        assert_eq!(Account::named("nobody-here", root.path()), None);
    }

    #[test]
    fn this_account_is_known() {
        let account = Account::current().unwrap();
        assert_ne!(account.user, u32::MAX);
        assert!(!account.groups.is_empty());
    }
}
