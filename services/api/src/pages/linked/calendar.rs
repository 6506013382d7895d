//! The calendar that an owner subscribes to. Looking at it notes what it told, so that changes are numbered, and
//! changes nothing else.

use super::holder;
use crate::call::Call;
use crate::problem::{Kind, Problem};
use actix_web::http::header;
use actix_web::{HttpResponse, web};
use gudgeon_calendar::{CONTENT_TYPE, calendar};
use gudgeon_life::version::hex;
use gudgeon_store::Purpose;
use sha2::{Digest, Sha256};

/// `GET /calendar/{link}.ics`, with `304` for whoever has it already.
pub(super) async fn show(call: Call) -> Result<HttpResponse, Problem> {
    let (app, now, today) = (call.app.clone(), call.now, call.today());
    let sealed = call.path("link").to_owned();
    let known = call.header(&header::IF_NONE_MATCH).to_owned();
    let text = web::block(move || {
        let Some(holder) = holder(&app, Purpose::Calendar, &sealed, today)? else {
            let detail = "this calendar's link is cut off, too old or was made useless; the latest weekly mail has a new one";
            return Err(Problem::new(Kind::NOT_FOUND, detail));
        };
        let owner = holder.party.party;
        Ok(calendar(&app.store, app.programmes.as_ref(), owner, today, now)?)
    })
    .await??;
    let tag = format!("\"{}\"", hex(Sha256::digest(text.as_bytes()).into()));
    if known.split(',').any(|it| it.trim().trim_start_matches("W/") == tag) {
        return Ok(HttpResponse::NotModified().insert_header((header::ETAG, tag)).finish());
    }
    // Kept by whoever asks, and asked about each time.
    let caching = (header::CACHE_CONTROL, "private, no-cache");
    let response = HttpResponse::Ok()
        .content_type(CONTENT_TYPE)
        .insert_header((header::ETAG, tag))
        .insert_header(caching)
        .body(text);
    Ok(response)
}
