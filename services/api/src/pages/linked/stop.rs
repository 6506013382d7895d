//! Ending the weekly mails, and beginning them again: with the button of a mail program (RFC 8058) or ours.

use super::{Holder, Shown, answered, answered_form, mails_of};
use crate::app::App;
use crate::call::Call;
use crate::form::Form;
use crate::problem::Problem;
use actix_web::HttpResponse;
use gudgeon_life::preference::{Mode, Preference};
use gudgeon_store::{Instant, Purpose};
use serde::Serialize;

#[derive(Serialize)]
pub(super) struct Stop {
    /// What the mails are called.
    mails: &'static str,
    stands: Stands,
    /// How often they came before they ended: what beginning again goes back to.
    before: &'static str,
}

/// How it stands with the mails.
#[derive(Clone, Copy, Serialize)]
#[serde(rename_all = "kebab-case")]
enum Stands {
    /// They come.
    Coming,
    /// They come only when something is overdue.
    OverdueOnly,
    /// They ended.
    Ended,
    /// They began again.
    Resumed,
}

/// `GET /stop/{link}`: asks, and changes nothing.
pub(super) async fn show(call: Call) -> Result<HttpResponse, Problem> {
    answered(call, Purpose::Stop, |app, holder, _| {
        let mode = preference(app, holder)?.mode;
        let stands = if mode == Mode::Off { Stands::Ended } else { Stands::Coming };
        page(app, holder, stands, mode)
    })
    .await
}

/// `POST /stop/{link}`: ends the mails when it says `List-Unsubscribe=One-Click` (RFC 8058, section 3.2). Our own
/// buttons say `do=overdue-only`, `do=stop` or `do=resume`.
pub(super) async fn send(call: Call) -> Result<HttpResponse, Problem> {
    answered_form(call, Purpose::Stop, done).await
}

fn done(app: &App, holder: &Holder, form: &Form, now: Instant) -> Result<Shown, Problem> {
    let old = preference(app, holder)?;
    let one_click = form.get("List-Unsubscribe").eq_ignore_ascii_case("One-Click");
    let (mode, stands) = match form.get("do") {
        "resume" => (resumed(form.get("before")), Stands::Resumed),
        "overdue-only" => (Mode::OverdueOnly, Stands::OverdueOnly),
        "stop" => (Mode::Off, Stands::Ended),
        _ if one_click => (Mode::Off, Stands::Ended),
        _ => return Ok(page(app, holder, Stands::Coming, old.mode)?.not_done()),
    };
    if mode != old.mode {
        let new = Preference { mode, ..old };
        app.store.set_preference(holder.party.party, holder.link.kind, &new, now)?;
    }
    page(app, holder, stands, old.mode)
}

fn preference(app: &App, holder: &Holder) -> Result<Preference, Problem> {
    Ok(app.store.preference(holder.party.party, holder.link.kind)?.preference)
}

/// How often mails come again; as for everybody when that is not known.
fn resumed(before: &str) -> Mode {
    let named = Mode::ALL.into_iter().find(|mode| mode.word() == before);
    named.filter(|mode| *mode != Mode::Off).unwrap_or_default()
}

fn page(app: &App, holder: &Holder, stands: Stands, before: Mode) -> Result<Shown, Problem> {
    let view = Stop { mails: mails_of(holder.link.kind), stands, before: before.word() };
    Shown::page(app, "stop.html", "Weekly mails", &view)
}

#[cfg(test)]
pub(super) fn samples() -> Vec<Stop> {
    let all = [Stands::Coming, Stands::OverdueOnly, Stands::Ended, Stands::Resumed];
    let sample = |stands| Stop {
        mails: mails_of(gudgeon_life::preference::ReportKind::Owner),
        stands,
        before: Mode::EveryWeek.word(),
    };
    all.map(sample).into()
}
