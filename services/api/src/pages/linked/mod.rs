//! The pages behind the links of mails: nobody signs in, the link says who is asking.
//!
//! A link that is good for something else, has expired, was made useless or never was, is answered alike, with a
//! page that says how to get a new one. Nothing changes on `GET` or `HEAD`: programs that look at mails follow
//! every link in them.

mod calendar;
mod mails;
mod reading;
mod reported;
mod stop;

use super::{Frame, rendered};
use crate::app::{App, Endpoint, resource};
use crate::call::Call;
use crate::form::Form;
use crate::problem::Problem;
use actix_web::http::{Method, StatusCode};
use actix_web::{HttpResponse, web};
use chrono::NaiveDate;
use gudgeon_life::preference::ReportKind;
use gudgeon_store::{Instant, Link, PartyRow, Purpose};
use serde::Serialize;

/// Adds the pages.
pub(super) fn configure(cfg: &mut web::ServiceConfig) {
    for (path, get, post) in [
        ("/stop/{link}", web::to(stop::show), web::to(stop::send)),
        ("/mails/{link}", web::to(mails::show), web::to(mails::send)),
        ("/reading/{link}", web::to(reading::show), web::to(reading::send)),
    ] {
        let methods = vec![(Method::GET, get), (Method::POST, post)];
        cfg.service(resource(Endpoint { path, methods }));
    }
    let methods = vec![(Method::GET, web::to(calendar::show))];
    cfg.service(resource(Endpoint { path: "/calendar/{link}.ics", methods }));
}

/// A link that holds, and whose it is.
struct Holder {
    link: Link,
    party: PartyRow,
}

/// The holder of a link of this purpose on a day.
fn holder(
    app: &App,
    purpose: Purpose,
    sealed: &str,
    today: NaiveDate,
) -> Result<Option<Holder>, Problem> {
    let opened = app.links.as_ref().and_then(|links| links.open(purpose, sealed, today));
    let Some(link) = opened else { return Ok(None) };
    Ok(app.store.link_holder(&link)?.map(|party| Holder { link, party }))
}

/// A page and the status that it comes with.
struct Shown {
    status: StatusCode,
    html: String,
}

impl Shown {
    fn page<T: Serialize>(
        app: &App,
        template: &str,
        title: &str,
        page: &T,
    ) -> Result<Self, Problem> {
        let frame = Frame { title: title.to_owned(), reader: None, demo: app.demo };
        Ok(Self { status: StatusCode::OK, html: rendered(template, frame, page)? })
    }

    /// The same page about something that was not done as it was sent.
    fn not_done(self) -> Self {
        Self { status: StatusCode::UNPROCESSABLE_ENTITY, ..self }
    }

    /// What every link that does not hold leads to.
    fn no_link(app: &App) -> Result<Self, Problem> {
        let page = Self::page(app, "no-link.html", "This link does not work", &())?;
        Ok(Self { status: StatusCode::NOT_FOUND, ..page })
    }
}

impl From<Shown> for HttpResponse {
    fn from(Shown { status, html }: Shown) -> Self {
        Self::build(status).content_type("text/html; charset=utf-8").body(html)
    }
}

/// Answers a request for the page behind a link.
async fn answered(
    call: Call,
    purpose: Purpose,
    page: impl FnOnce(&App, &Holder, Instant) -> Result<Shown, Problem> + Send + 'static,
) -> Result<HttpResponse, Problem> {
    let (app, now, today) = (call.app.clone(), call.now, call.today());
    let sealed = call.path("link").to_owned();
    let shown = web::block(move || match holder(&app, purpose, &sealed, today)? {
        Some(holder) => page(&app, &holder, now),
        None => Shown::no_link(&app),
    });
    shown.await?.map(HttpResponse::from)
}

/// Answers a form that was sent to the page behind a link.
async fn answered_form(
    call: Call,
    purpose: Purpose,
    page: impl FnOnce(&App, &Holder, &Form, Instant) -> Result<Shown, Problem> + Send + 'static,
) -> Result<HttpResponse, Problem> {
    let (app, now, today) = (call.app.clone(), call.now, call.today());
    let sealed = call.path("link").to_owned();
    let form = Form::of(call).await?;
    let shown = web::block(move || match holder(&app, purpose, &sealed, today)? {
        Some(holder) => page(&app, &holder, &form, now),
        None => Shown::no_link(&app),
    });
    shown.await?.map(HttpResponse::from)
}

/// What the mails of a kind are called.
const fn mails_of(kind: ReportKind) -> &'static str {
    match kind {
        ReportKind::Owner => "the weekly mails about your engines",
        ReportKind::Shop => "the weekly mails about the work of your workshop",
        ReportKind::Inspector => "the weekly mails about the fleet",
    }
}

#[cfg(test)]
pub(in crate::pages) mod tests;
