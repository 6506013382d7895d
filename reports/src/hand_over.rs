//! Handing one mail over to whoever carries it on: today a folder, into which it is written as an `.eml`
//! file that a mail program opens.

use gudgeon_life::words::short_id;
use gudgeon_store::ReportRow;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

/// The longest owner's name in a file name, in characters.
const SLUG_CHARS: usize = 24;

/// How handing a mail over ended.
#[derive(Debug)]
pub enum HandedOver {
    /// It was accepted, as what the receipt says.
    Accepted(String),
    /// It was certainly not accepted, and may be handed over again.
    NotAccepted(String),
    /// It may have been accepted: handing it over again could make it two.
    Unknown(String),
}

/// Who takes mails over.
pub trait Carrier {
    /// Hands over one mail. It is called without any transaction open, and may take its time.
    fn hand_over(&self, report: &ReportRow, message: &[u8]) -> HandedOver;
}

/// A folder of `.eml` files.
#[derive(Debug)]
pub struct Folder(PathBuf);

impl Folder {
    /// The folder at this path, which is made when it is not there.
    ///
    /// # Errors
    /// What the system says when it cannot be made.
    pub fn open(path: &Path) -> io::Result<Self> {
        fs::create_dir_all(path)?;
        Ok(Self(path.to_owned()))
    }
}

impl Carrier for Folder {
    /// The file is whole when it has its name. The receipt is its path.
    fn hand_over(&self, report: &ReportRow, message: &[u8]) -> HandedOver {
        let path = self.0.join(file_name(report));
        let said = |error: io::Error| format!("`{}` cannot be written: {error}", path.display());
        if let Err(error) = write_whole(&path, message) {
            return HandedOver::NotAccepted(said(error));
        }
        // The file has its name; whether it still does after a power cut is what the folder's own sync says.
        match File::open(&self.0).and_then(|folder| folder.sync_all()) {
            Ok(()) => HandedOver::Accepted(path.display().to_string()),
            Err(error) => HandedOver::Unknown(said(error)),
        }
    }
}

/// Such as `2026-W48-invented-flying-club-0c07398f.eml`.
fn file_name(report: &ReportRow) -> String {
    let letters = report.to_name.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { ' ' });
    let letters: String = letters.collect::<String>().to_lowercase();
    let words: Vec<&str> = letters.split_whitespace().collect();
    let slug: String = words.join("-").chars().take(SLUG_CHARS).collect();
    let parts = [report.week.as_str(), slug.trim_end_matches('-'), &short_id(report.recipient.0)];
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    format!("{}.eml", parts.join("-"))
}

/// All of it or nothing under the final name.
fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let partial = path.with_extension("eml.partial");
    let mut file = File::create(&partial)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&partial, path)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixtures::sample_report;

    #[test]
    fn a_file_is_named_after_week_owner_and_record() {
        assert_eq!(
            file_name(&sample_report("Invented / Flying .. Club")),
            "2026-W48-invented-flying-club-00000003.eml"
        );
        assert_eq!(file_name(&sample_report("Žžž")), "2026-W48-00000003.eml");
    }
}
