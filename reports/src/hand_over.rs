//! Handing one mail over to whoever carries it on: today a folder, into which it is written as an `.eml`
//! file that a mail program opens.

use gudgeon_life::words::short_id;
use gudgeon_store::ReportRow;
use std::fmt;
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
    /// It was certainly not accepted; later it may be.
    Deferred(Reply),
    /// It was certainly not accepted, and the same mail never will be.
    Refused(Reply),
    /// It may have been accepted: handing it over again could make it two.
    Unknown(String),
}

/// Why a mail was not accepted: what a server answered, or what kept it from being asked.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Reply {
    /// The reply code of RFC 5321, such as 450; none when no server answered: the line, the name or the
    /// certificate was at fault, and every other mail would fare the same now.
    pub code: Option<u16>,
    /// The enhanced status code of RFC 3463, such as `4.7.1`, where the answer has one.
    pub enhanced: Option<String>,
    /// What was answered, or what is wrong. It may name the address.
    pub words: String,
}

impl Reply {
    /// What is wrong, when no server answered.
    #[must_use]
    pub fn without_code(words: impl Into<String>) -> Self {
        Self { words: words.into(), ..Self::default() }
    }

    /// Whether it is about the recipient's whole domain rather than about this mail, so that the next mails to
    /// it should wait too: 421 (the service is closing), or a 45x that says by its enhanced code that the
    /// server is not accepting mail (x.3.2), is congested (x.4.5) or keeps to a policy (x.7), as limits of
    /// rate are answered. Codes of RFC 5321 section 4.2.3 and RFC 3463 section 3.
    #[must_use]
    pub fn slows_domain(&self) -> bool {
        let busy = |enhanced: &str| {
            enhanced.starts_with("4.7.") || enhanced == "4.3.2" || enhanced == "4.4.5"
        };
        match self.code {
            Some(421) => true,
            Some(450..=459) => self.enhanced.as_deref().is_some_and(busy),
            _ => false,
        }
    }
}

impl fmt::Display for Reply {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(code) = self.code {
            write!(f, "{code} ")?;
        }
        if let Some(enhanced) = &self.enhanced {
            write!(f, "{enhanced} ")?;
        }
        f.write_str(&self.words)
    }
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
            return HandedOver::Deferred(Reply::without_code(said(error)));
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

    // RFC 5321 section 4.2.3 and RFC 3463: 421 is about the service, 450 about a mailbox, x.7 about a policy.
    #[test]
    fn a_reply_tells_whether_it_is_about_the_whole_domain() {
        for (code, enhanced, slows) in [
            (Some(421), None, true),
            (Some(421), Some("4.3.0"), true),
            (Some(450), Some("4.7.1"), true),
            (Some(451), Some("4.3.2"), true),
            (Some(452), Some("4.4.5"), true),
            (Some(450), None, false),
            (Some(450), Some("4.2.1"), false),
            (Some(452), Some("4.2.2"), false),
            (Some(550), Some("5.7.1"), false),
            (None, None, false),
        ] {
            let enhanced = enhanced.map(str::to_owned);
            let reply = Reply { code, enhanced, words: String::new() };
            assert_eq!(reply.slows_domain(), slows, "{reply:?}");
        }
    }

    #[test]
    fn a_file_is_named_after_week_owner_and_record() {
        assert_eq!(
            file_name(&sample_report("Invented / Flying .. Club")),
            "2026-W48-invented-flying-club-00000003.eml"
        );
        assert_eq!(file_name(&sample_report("Žžž")), "2026-W48-00000003.eml");
    }
}
