//! The demonstration's folder: its settings, its keys, and the care not to write over anything else.

use super::sending::Keys;
use crate::settings;
use gudgeon_api::auth::mint_key;
use std::fmt;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::net::SocketAddr;
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

/// Says that a folder was made by the demonstration, and may be made anew.
const MARK: &str =
    "# Made by `gudgeon demo`: an invented fleet. Running the demonstration again replaces it.";
const KEYS_FILE: &str = "keys.txt";
const LINKS_FILE: &str = "links.secret";

/// The folder holds something that is not ours to replace.
#[derive(Debug)]
struct NotOurs(PathBuf);

impl fmt::Display for NotOurs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "`{}` is not empty and was not made by a demonstration; name another folder with --dir",
            self.0.display()
        )
    }
}

impl std::error::Error for NotOurs {}

/// Makes the folder with its settings file, replacing an earlier demonstration.
pub(super) fn make(dir: &Path, address: SocketAddr) -> io::Result<()> {
    fs::create_dir_all(dir)?;
    let settings = dir.join(settings::FILE);
    let ours = fs::read_to_string(&settings).is_ok_and(|text| text.starts_with(MARK));
    if !ours && fs::read_dir(dir)?.next().is_some() {
        return Err(io::Error::other(NotOurs(dir.to_owned())));
    }
    for name in
        ["gudgeon.sqlite", "gudgeon.sqlite-wal", "gudgeon.sqlite-shm", KEYS_FILE, LINKS_FILE]
    {
        remove_if_there(&dir.join(name))?;
    }
    let mails = dir.join("mail");
    if ours && mails.exists() {
        fs::remove_dir_all(mails)?;
    }
    let (secret, _) = mint_key();
    for_its_owner(&dir.join(LINKS_FILE))?.write_all(secret.as_bytes())?;
    fs::write(
        settings,
        format!(
            "{MARK}\ndatabase = \"sqlite:gudgeon.sqlite\"\nlisten = \"{address}\"\nbase-url = \"http://{address}\"\ndemo = true\n\n\
             [mail]\nfolder = \"mail\"\nfrom = \"Invented engine reports <reports@gudgeon.example>\"\n\
             reply-to = \"Invented engine reports <reports@gudgeon.example>\"\n\n\
             [links]\nsecret-file = \"{LINKS_FILE}\"\n"
        ),
    )
}

fn remove_if_there(path: &Path) -> io::Result<()> {
    match fs::remove_file(path) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => Err(error),
        _ => Ok(()),
    }
}

/// A new file that only whoever runs this may read.
fn for_its_owner(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).create(true).truncate(true).mode(0o600).open(path)
}

/// Writes the keys down for whoever plays with the demonstration; only its owner may read the file.
pub(super) fn write_keys(dir: &Path, keys: &Keys) -> io::Result<()> {
    let mut file = for_its_owner(&dir.join(KEYS_FILE))?;
    writeln!(file, "operator {}", keys.operator)?;
    writeln!(file, "inspector {}", keys.inspector)?;
    for (shop, key) in &keys.shops {
        writeln!(file, "{shop} {key}")?;
    }
    Ok(())
}
