//! How mails leave, as the settings say: to a folder or to a mail server, signed or not; and a mail that tries it.

use crate::clock;
use crate::settings::{MailSettings, Settings, SettingsError, SmtpSettings};
use chrono::NaiveDate;
use gudgeon_api::Cache;
use gudgeon_calendar::calendar;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::preference::ReportKind;
use gudgeon_reports::dkim::Dkim;
use gudgeon_reports::hand_over::{Carrier, Folder, HandedOver};
use gudgeon_reports::message::{Enclosed, message};
use gudgeon_reports::render::Renderer;
use gudgeon_reports::sender::{Sender, address};
use gudgeon_reports::smtp::{Login, Patience, Relay, Smtp};
use gudgeon_store::{Instant, Links, Recipient, ReportRow, ReportState, Store, StoreError};
use std::error::Error;
use std::io::{self, Write};
use std::path::Path;

/// What a trial mail says.
const TEST_TEXT: &str = "TEST

This mail was sent by `gudgeon send-test`. It says nothing about any engine.
If you can read it, the weekly reports can leave this way.
";
const TEST_HTML: &str =
    "<!doctype html><html lang=\"en\"><head><title>TEST</title></head><body><h1>TEST</h1>
<p>This mail was sent by <code>gudgeon send-test</code>. It says nothing about any engine.</p>
<p>If you can read it, the weekly reports can leave this way.</p></body></html>
";

/// Who the mails come from, and how they are signed.
pub(crate) fn sender(settings: &Settings) -> Result<Sender, Box<dyn Error>> {
    let mail = &settings.file.mail;
    let mut sender = Sender::new(&mail.from, &mail.reply_to)?;
    if let Some(bounces) = &mail.bounces {
        sender = sender.returning_to(bounces)?;
    }
    if let Some(dkim) = &mail.dkim {
        let domain = dkim.domain.as_deref().unwrap_or_else(|| sender.from().email.domain());
        let path = settings.dir.join(&dkim.key_file);
        let key = read_secret(&path, "mail.dkim.key-file")?;
        let signs = Dkim::new(domain, &dkim.selector, key.as_bytes())
            .map_err(|error| wrong(&path, format!("mail.dkim: {error}")))?;
        sender = sender.signing(signs);
    }
    Ok(sender)
}

/// The same with the links and the calendar of whoever each report is for, if links are set up.
pub(crate) fn enclosing_sender(
    settings: &Settings,
    store: &Store,
) -> Result<Sender, Box<dyn Error>> {
    let sender = sender(settings)?;
    let Some(links) = settings.links()? else { return Ok(sender) };
    let (store, programmes) = (store.clone(), Cache::default());
    Ok(sender.enclosing(move |report| {
        enclosed(&store, &programmes, &links, report).map_err(|error| error.to_string())
    }))
}

/// What goes with a report. Each follows from the report and the records, so that it is the same when the report
/// is sent again.
fn enclosed(
    store: &Store,
    programmes: &Cache,
    links: &Links,
    report: &ReportRow,
) -> Result<Enclosed, StoreError> {
    let kind = ReportKind::ALL.into_iter().find(|kind| kind.word() == report.kind);
    let Some(kind) = kind else { return Ok(Enclosed::default()) };
    let party = report.recipient;
    let generation = store.preference(party, kind)?.links_generation;
    let made_on = clock::day_of(report.composed_at);
    let to = Recipient { kind, party, generation };
    let calendar = match kind {
        ReportKind::Owner => {
            Some(calendar(store, programmes, party, report.as_of, report.composed_at)?)
        }
        ReportKind::Shop | ReportKind::Inspector => None,
    };
    Ok(Enclosed { unsubscribe: Some(links.for_mail(to, made_on).stop), calendar })
}

/// The mail templates, the operator's own in place of those built in.
pub(crate) fn renderer(settings: &Settings) -> Result<Renderer, Box<dyn Error>> {
    Ok(Renderer::with_folder(settings.mail_templates().as_deref())?)
}

/// Who takes the mails over.
pub(crate) fn carrier(
    settings: &Settings,
    sender: &Sender,
) -> Result<Box<dyn Carrier + Sync>, Box<dyn Error>> {
    let MailSettings { smtp, .. } = &settings.file.mail;
    let Some(smtp) = smtp else {
        let path = settings.mail_folder();
        let folder = Folder::open(&path)
            .map_err(|error| format!("`{}` cannot be made: {error}", path.display()))?;
        return Ok(Box::new(folder));
    };
    let relay = relay(settings, smtp)?;
    let smtp = Smtp::new(relay, sender.clone(), Patience::default(), std::time::Instant::now)?;
    Ok(Box::new(smtp))
}

/// Where mails go, in words.
pub(crate) fn destination(settings: &Settings) -> String {
    match &settings.file.mail.smtp {
        Some(smtp) => format!("{}:{}", smtp.host, smtp.port()),
        None => settings.mail_folder().display().to_string(),
    }
}

/// How many mails are handed over at once.
pub(crate) fn connections(settings: &Settings) -> usize {
    settings.file.mail.smtp.as_ref().map_or(1, |smtp| smtp.connections.get())
}

fn relay(settings: &Settings, smtp: &SmtpSettings) -> Result<Relay, Box<dyn Error>> {
    let login = match (&smtp.user, &smtp.password_file) {
        (None, None) => None,
        (Some(user), Some(file)) => {
            let path = settings.dir.join(file);
            let password = read_secret(&path, "mail.smtp.password-file")?;
            let password = password.trim_end_matches(['\r', '\n']).to_owned();
            Some(Login { user: user.clone(), password })
        }
        (Some(_), None) => {
            return Err(settings
                .wrong("mail.smtp: `user` needs a `password-file` beside it")
                .into());
        }
        (None, Some(_)) => {
            return Err(settings
                .wrong("mail.smtp: `password-file` needs a `user` beside it")
                .into());
        }
    };
    Ok(Relay {
        host: smtp.host.clone(),
        port: smtp.port(),
        security: smtp.security.into(),
        login,
        authorities: smtp.ca_file.as_ref().map(|file| settings.dir.join(file)),
    })
}

fn read_secret(path: &Path, setting: &str) -> Result<String, SettingsError> {
    std::fs::read_to_string(path).map_err(|error| {
        wrong(path, format!("`{setting}` names a file that cannot be read: {error}"))
    })
}

fn wrong(path: &Path, what: String) -> SettingsError {
    SettingsError::Wrong(path.to_owned(), what)
}

/// Sends a mail that says TEST, the way that reports go, and says what came of it. False when it was not accepted.
pub(crate) fn send_test(settings: &Settings, to: &str) -> Result<bool, Box<dyn Error>> {
    let to = address(to).ok_or_else(|| format!("`{to}` is no mail address"))?;
    let (sender, now) = (sender(settings)?, clock::now());
    let report = trial(&sender, to.as_ref(), now, clock::day_of(now));
    let message = message(&report, &sender)?;
    let destination = destination(settings);
    let mut out = io::stdout();
    match carrier(settings, &sender)?.hand_over(&report, &message) {
        HandedOver::Accepted(receipt) => {
            writeln!(out, "{destination} took the test mail for {to}: {receipt}")?;
            writeln!(out, "That is not to say that it arrived: look for it there.")?;
            return Ok(true);
        }
        HandedOver::Deferred(reply) => {
            writeln!(out, "{destination} did not take the test mail now: {reply}")?;
        }
        HandedOver::Refused(reply) => {
            writeln!(out, "{destination} refused the test mail: {reply}")?;
        }
        HandedOver::Unknown(why) => {
            writeln!(out, "Nobody can tell whether {destination} took the test mail: {why}")?;
        }
    }
    Ok(false)
}

/// Sends the operator a few words about a run, when the settings say who that is. That it is not taken stops
/// nothing: the words are on standard output too.
pub(crate) fn tell_operator(
    settings: &Settings,
    about: &str,
    words: &str,
) -> Result<(), Box<dyn Error>> {
    let Some(operator) = &settings.file.mail.operator else { return Ok(()) };
    let to = address(operator).ok_or_else(|| {
        settings.wrong(&format!("`mail.operator` is `{operator}`, which is no mail address"))
    })?;
    let (sender, now) = (sender(settings)?, clock::now());
    let escaped = words.replace('&', "&amp;").replace('<', "&lt;");
    let report = ReportRow {
        subject: format!("Engine reports: {about}"),
        text: words.to_owned(),
        html: format!(
            "<!doctype html><html lang=\"en\"><body><pre>{escaped}</pre></body></html>\n"
        ),
        message_id: format!("<run.{}@{}>", now.0, sender.from().email.domain()),
        week: "run".to_owned(),
        ..trial(&sender, to.as_ref(), now, clock::day_of(now))
    };
    let message = message(&report, &sender)?;
    if !matches!(carrier(settings, &sender)?.hand_over(&report, &message), HandedOver::Accepted(_))
    {
        writeln!(io::stderr(), "gudgeon: the operator could not be told by mail")?;
    }
    Ok(())
}

/// A mail that is no report, and is kept nowhere.
fn trial(sender: &Sender, to: &str, now: Instant, as_of: NaiveDate) -> ReportRow {
    ReportRow {
        key: 0,
        recipient: PartyId(Uid::from_bytes([0; 16])),
        kind: "test".to_owned(),
        week: "test".to_owned(),
        as_of,
        message_id: format!("<test.{}@{}>", now.0, sender.from().email.domain()),
        to_name: String::new(),
        to_address: to.to_owned(),
        subject: "TEST of the engine reports".to_owned(),
        text: TEST_TEXT.to_owned(),
        html: TEST_HTML.to_owned(),
        composed_at: now,
        digest: [0; 32],
        return_tag: "test".to_owned(),
        state: ReportState::Planned,
    }
}
