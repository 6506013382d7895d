//! The settings file: one TOML file in the service's folder, every key optional, unknown keys refused.

use gudgeon_life::zone::Zone;
use gudgeon_reports::retry::Rules;
use gudgeon_reports::smtp::Security;
use gudgeon_store::{Links, Store, StoreError};
use serde::Deserialize;
use std::fmt;
use std::net::SocketAddr;
use std::num::{NonZeroU32, NonZeroUsize};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// The name of the settings file in the service's folder.
pub(crate) const FILE: &str = "gudgeon.toml";

/// Everything that can be set, with the folder it was read from.
#[derive(Clone, Debug)]
pub(crate) struct Settings {
    /// The folder that holds the file; relative paths start here.
    pub(crate) dir: PathBuf,
    /// What the file says.
    pub(crate) file: SettingsFile,
}

/// The keys of the file; `config/gudgeon.toml` explains them.
#[derive(Clone, Debug, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct SettingsFile {
    pub(crate) database: String,
    pub(crate) database_connections: NonZeroUsize,
    pub(crate) remembered_mebibytes: u16,
    pub(crate) listen: SocketAddr,
    pub(crate) base_url: String,
    pub(crate) time_zone: String,
    pub(crate) demo: bool,
    pub(crate) mail: MailSettings,
    pub(crate) links: LinkSettings,
}

/// The keys under `[links]`.
#[derive(Clone, Debug, Default, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct LinkSettings {
    pub(crate) secret_file: Option<PathBuf>,
}

/// The keys under `[mail]`.
#[derive(Clone, Debug, Deserialize)]
#[serde(default, deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct MailSettings {
    pub(crate) folder: PathBuf,
    pub(crate) from: String,
    pub(crate) reply_to: String,
    pub(crate) operator: Option<String>,
    pub(crate) late_hours_max: u32,
    pub(crate) watch_seconds: u32,
    pub(crate) domain_a_minute: Option<NonZeroU32>,
    pub(crate) bounces: Option<String>,
    pub(crate) templates: Option<PathBuf>,
    pub(crate) smtp: Option<SmtpSettings>,
    pub(crate) dkim: Option<DkimSettings>,
}

/// The keys under `[mail.smtp]`.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct SmtpSettings {
    pub(crate) host: String,
    port: Option<u16>,
    #[serde(default)]
    pub(crate) security: SecuritySetting,
    pub(crate) user: Option<String>,
    pub(crate) password_file: Option<PathBuf>,
    pub(crate) ca_file: Option<PathBuf>,
    #[serde(default = "one")]
    pub(crate) connections: NonZeroUsize,
}

fn one() -> NonZeroUsize {
    NonZeroUsize::MIN
}

impl SmtpSettings {
    /// The port, or the one that is registered for mail handed in this way (RFC 8314).
    pub(crate) fn port(&self) -> u16 {
        self.port.unwrap_or(match self.security {
            SecuritySetting::Starttls => 587,
            SecuritySetting::Tls => 465,
            SecuritySetting::NoneOnLoopback => 25,
        })
    }
}

/// How the connection to the mail server is kept private.
#[derive(Clone, Copy, Debug, Default, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum SecuritySetting {
    #[default]
    Starttls,
    Tls,
    NoneOnLoopback,
}

impl From<SecuritySetting> for Security {
    fn from(setting: SecuritySetting) -> Self {
        match setting {
            SecuritySetting::Starttls => Self::StartTls,
            SecuritySetting::Tls => Self::Tls,
            SecuritySetting::NoneOnLoopback => Self::NoneOnLoopback,
        }
    }
}

/// The keys under `[mail.dkim]`.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "kebab-case")]
pub(crate) struct DkimSettings {
    pub(crate) domain: Option<String>,
    pub(crate) selector: String,
    pub(crate) key_file: PathBuf,
}

impl Default for SettingsFile {
    fn default() -> Self {
        Self {
            database: "sqlite:gudgeon.sqlite".to_owned(),
            database_connections: Store::CONNECTIONS_MAX,
            remembered_mebibytes: Store::REMEMBERED_MEBIBYTES_MAX,
            listen: SocketAddr::from(([127, 0, 0, 1], 8080)),
            base_url: "http://127.0.0.1:8080".to_owned(),
            time_zone: Zone::UTC.name().to_owned(),
            demo: false,
            mail: MailSettings::default(),
            links: LinkSettings::default(),
        }
    }
}

impl Default for MailSettings {
    fn default() -> Self {
        let address = "Engine reports <reports@example.org>".to_owned();
        Self {
            folder: PathBuf::from("mail"),
            from: address.clone(),
            reply_to: address,
            operator: None,
            late_hours_max: 36,
            watch_seconds: 60,
            domain_a_minute: None,
            bounces: None,
            templates: None,
            smtp: None,
            dkim: None,
        }
    }
}

/// Why the settings cannot be used.
#[derive(Debug)]
pub(crate) enum SettingsError {
    /// The folder has no settings file.
    Missing(PathBuf),
    /// The file cannot be read.
    Unreadable(PathBuf, std::io::Error),
    /// The file is not right; the text names line and key.
    Wrong(PathBuf, String),
}

impl fmt::Display for SettingsError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Missing(path) => write!(
                f,
                "there is no `{}`; run this in the folder that holds it, or name that folder with --dir (`gudgeon demo` makes one)",
                path.display()
            ),
            Self::Unreadable(path, error) => write!(f, "`{}`: {error}", path.display()),
            Self::Wrong(path, what) => write!(f, "`{}`: {what}", path.display()),
        }
    }
}

impl std::error::Error for SettingsError {}

impl Settings {
    /// Reads the settings of a folder.
    pub(crate) fn read(dir: &Path) -> Result<Self, SettingsError> {
        let path = dir.join(FILE);
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => {
                return Err(SettingsError::Missing(path));
            }
            Err(error) => return Err(SettingsError::Unreadable(path, error)),
        };
        match toml::from_str(&text) {
            Ok(file) => Ok(Self { dir: dir.to_owned(), file }),
            Err(error) => Err(SettingsError::Wrong(path, error.to_string())),
        }
    }

    /// Opens the database; makes its file when it is one and `create` says so.
    pub(crate) fn open_store(&self, create: bool) -> Result<Store, StoreError> {
        let store = Store::open_with(&self.database_url(), create, self.file.database_connections)?;
        Ok(store.with_remembered_mebibytes_max(self.file.remembered_mebibytes))
    }

    /// The database URL, with a relative file taken from the settings' folder.
    fn database_url(&self) -> String {
        match self.file.database.strip_prefix("sqlite:") {
            Some(path) => format!("sqlite:{}", self.dir.join(path).display()),
            None => self.file.database.clone(),
        }
    }

    /// That something in the file is not right.
    pub(crate) fn wrong(&self, what: &str) -> SettingsError {
        SettingsError::Wrong(self.dir.join(FILE), what.to_owned())
    }

    /// What makes the links of mails and reads them; `None` when no key is set.
    pub(crate) fn links(&self) -> Result<Option<Links>, SettingsError> {
        let Some(file) = &self.file.links.secret_file else { return Ok(None) };
        let path = self.dir.join(file);
        let key = match std::fs::read(&path) {
            Ok(key) => key,
            Err(error) => return Err(SettingsError::Unreadable(path, error)),
        };
        let links = Links::new(&key, &self.file.base_url);
        links.map(Some).map_err(|short| SettingsError::Wrong(path, short.to_string()))
    }

    /// The folder of the operator's own mail templates.
    pub(crate) fn mail_templates(&self) -> Option<PathBuf> {
        self.file.mail.templates.as_ref().map(|folder| self.dir.join(folder))
    }

    /// The time zone of those who chose none.
    pub(crate) fn zone(&self) -> Result<Zone, SettingsError> {
        let name = &self.file.time_zone;
        Zone::parse(name).map_err(|error| self.wrong(&format!("time-zone: {error}")))
    }

    /// How late and how fast mails leave.
    pub(crate) fn rules(&self) -> Rules {
        let MailSettings { late_hours_max, domain_a_minute, smtp, .. } = &self.file.mail;
        Rules {
            late_max: i64::from(*late_hours_max) * 3_600_000_000,
            // A folder takes whatever comes.
            domain_a_minute: domain_a_minute.filter(|_| smtp.is_some()).map(NonZeroU32::get),
        }
    }

    /// How long watching rests at most.
    pub(crate) fn watch_rest(&self) -> Duration {
        Duration::from_secs(self.file.mail.watch_seconds.max(1).into())
    }

    /// The folder that mails are written to.
    pub(crate) fn mail_folder(&self) -> PathBuf {
        self.dir.join(&self.file.mail.folder)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // The reference file promises to show every key with its default.
    #[test]
    fn the_reference_file_shows_the_defaults() {
        let text = include_str!("../../../config/gudgeon.toml");
        let file: SettingsFile = toml::from_str(text).unwrap();
        assert_eq!(format!("{file:?}"), format!("{:?}", SettingsFile::default()));
    }

    // The mail server as the reference file shows it, where it is commented out.
    #[test]
    fn the_reference_file_shows_a_mail_server_and_a_signature() {
        let text = include_str!("../../../config/gudgeon.toml");
        let (_, tables) = text.split_once("# [mail.smtp]").unwrap();
        let tables = format!("[mail.smtp]{}", tables.replace("\n# ", "\n"));
        let keys = tables.lines().filter(|it| it.starts_with('[') || it.contains(" = "));
        let file: SettingsFile = toml::from_str(&keys.collect::<Vec<_>>().join("\n")).unwrap();
        let (smtp, dkim) = (file.mail.smtp.unwrap(), file.mail.dkim.unwrap());
        assert_eq!((smtp.host.as_str(), smtp.port()), ("smtp.example.org", 587));
        assert!(smtp.user.is_some() && smtp.password_file.is_some() && smtp.ca_file.is_some());
        assert_eq!(dkim.domain.as_deref(), Some("example.org"));
    }

    #[test]
    fn an_unknown_key_is_refused_by_name() {
        let error = toml::from_str::<SettingsFile>("listn = \"127.0.0.1:1\"").unwrap_err();
        assert!(error.to_string().contains("listn"), "{error}");
    }
}
