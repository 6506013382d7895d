//! `gudgeon preview`: what somebody's report of a week would say, written to a folder. Nothing else changes.

use crate::settings::Settings;
use crate::{clock, mailing, week};
use chrono::NaiveDate;
use gudgeon_api::Cache;
use gudgeon_life::fact::PartyRole;
use gudgeon_life::ids::{PartyId, Uid};
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use gudgeon_reports::contents::{Composer, Contents};
use gudgeon_reports::render::Rendered;
use std::error::Error;
use std::fs;
use std::io::{self, Write};
use std::path::Path;

/// Writes subject, text and HTML as files, each marked as a preview, or says why there is nothing to say.
pub(crate) fn run(
    settings: &Settings,
    recipient: &str,
    week: Option<ReportWeek>,
    as_of: Option<NaiveDate>,
    folder: &Path,
) -> Result<(), Box<dyn Error>> {
    let id = Uid::parse(recipient).ok_or_else(|| format!("`{recipient}` is not a UUID"))?;
    let store = settings.open_store(false)?;
    let party = store.party(PartyId(id))?.filter(|party| party.erased_on.is_none());
    let party = party.ok_or_else(|| format!("nobody with the id {recipient} is on record"))?;
    let kind = match party.role {
        PartyRole::Owner => ReportKind::Owner,
        PartyRole::Shop => ReportKind::Shop,
        PartyRole::Inspector => ReportKind::Inspector,
    };
    let row = store.preference(party.party, kind)?;
    let zone = row.preference.zone.map_or_else(|| settings.zone(), Ok)?;
    let as_of = as_of.unwrap_or_else(|| zone.day(clock::now().0));
    let week = week.unwrap_or_else(|| ReportWeek::of(as_of));
    let (programmes, renderer) = (Cache::default(), mailing::renderer(settings)?);
    let links = settings.links()?;
    week::recount(&store, &programmes)?;
    let composer = Composer {
        store: &store,
        programmes: &programmes,
        renderer: &renderer,
        links: links.as_ref(),
    };
    let asked = composer.asked((kind, party.party), (week, as_of), &row);
    let snapshots = composer.load(kind, &[party], as_of, clock::now())?;
    let snapshot = snapshots.first().ok_or("there is no report of this kind")?;
    let mut out = io::stdout();
    match composer.contents(snapshot, &asked)? {
        Contents::Composed(mail) => {
            write_marked(&mail, folder)?;
            writeln!(out, "The preview of {week} as of {as_of} is in {}.", folder.display())?;
        }
        Contents::NothingToSay(why) => writeln!(out, "No mail in {week} as of {as_of}: {why}.")?,
    }
    Ok(())
}

fn write_marked(rendered: &Rendered, folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)?;
    fs::write(folder.join("subject.txt"), format!("PREVIEW: {}\n", rendered.subject))?;
    fs::write(folder.join("text.txt"), format!("PREVIEW, not sent\n\n{}", rendered.text))?;
    let html = match rendered.html.split_once("<body").and_then(|(head, body)| {
        let (tag, rest) = body.split_once('>')?;
        Some(format!("{head}<body{tag}>\n<p><strong>PREVIEW, not sent</strong></p>{rest}"))
    }) {
        Some(marked) => marked,
        None => format!("<!-- PREVIEW, not sent -->\n{}", rendered.html),
    };
    fs::write(folder.join("mail.html"), html)
}
