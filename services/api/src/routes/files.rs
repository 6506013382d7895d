//! Photographs, each at the address of its SHA-256: pictures only, told by their bytes and not by their names.

use crate::access;
use crate::auth::{Reader, Writer};
use crate::call::{Call, day_of};
use crate::problem::{Kind, Problem};
use crate::requests::engine_types::read_digest;
use actix_web::http::header::{self, HeaderValue};
use actix_web::{HttpResponse, web};
use gudgeon_life::ids::PartyId;
use gudgeon_life::version::hex;
use gudgeon_store::{Instant, Sent, Store, photo_digest};
use serde_json::json;

/// Bytes in a photograph: 5 MiB.
const PHOTO_BYTES_MAX: usize = 5 * 1024 * 1024;
/// Photographs that one key's holder sends in 24 hours: several engines taken apart on one day.
const SENT_MAX: usize = 1000;
/// Bytes that one key's holder sends in 24 hours: 1 GiB.
const SENT_BYTES_MAX: i64 = 1024 * 1024 * 1024;
/// 24 hours in microseconds.
const DAY_MICROS: i64 = 24 * 3600 * 1_000_000;
/// When to send on once too much was sent: an hour later some of it is no longer counted.
const RETRY_AFTER_SECONDS: &str = "3600";
/// What a browser may do with a photograph: show it, and nothing that it might hold besides.
const POLICY: &str = "default-src 'none'; sandbox; frame-ancestors 'none'";

/// `PUT /v1/files/{sha256}`: the bytes themselves.
pub(super) async fn put(writer: Writer, call: Call) -> Result<HttpResponse, Problem> {
    let digest = digest(&call)?;
    let sender = access::shop(&writer.0)?;
    let (app, now, address) = (call.app.clone(), call.now, call.address());
    let store = app.store.clone();
    web::block(move || within_limits(&store, sender, now)).await??;
    let bytes = call.bytes(PHOTO_BYTES_MAX).await?;
    let media_type = picture(&bytes).ok_or_else(no_picture)?;
    if photo_digest(&bytes) != digest {
        let detail = "the bytes that arrived have another SHA-256 than the address says; nothing was kept, send them again";
        return Err(Problem::new(Kind::INVALID, detail));
    }
    let size = bytes.len();
    let sent = web::block(move || app.store.put_photo(&bytes, sender, now)).await??;
    let body = json!({ "sha256": hex(digest), "media_type": media_type, "bytes": size });
    Ok(match sent {
        Sent::Created => {
            HttpResponse::Created().insert_header((header::LOCATION, address)).json(body)
        }
        Sent::Same => HttpResponse::Ok().json(body),
        Sent::Erased => {
            let detail = "this photograph was erased, and is not taken again";
            return Err(Problem::new(Kind::ERASED, detail));
        }
    })
}

/// `GET /v1/files/{sha256}`: for whoever sees an engine whose record names it, and for its sender until one does.
pub(super) async fn get(reader: Reader, call: Call) -> Result<HttpResponse, Problem> {
    let digest = digest(&call)?;
    let (app, now) = (call.app.clone(), call.now);
    let bytes = web::block(move || {
        let seen = access::sees_photo(&app.store, &reader.0, day_of(now), digest)?;
        let bytes = if seen { app.store.photo(digest)? } else { None };
        bytes.ok_or_else(|| Problem::not_found("photograph"))
    })
    .await??;
    // What is kept passed the same test when it arrived; what no longer does is not sent to a browser.
    let media_type = picture(&bytes).ok_or_else(|| Problem::not_found("photograph"))?;
    Ok(HttpResponse::Ok()
        .content_type(media_type)
        .insert_header((header::CONTENT_SECURITY_POLICY, POLICY))
        .insert_header((header::CONTENT_DISPOSITION, "inline"))
        .body(bytes))
}

/// The SHA-256 in the address.
fn digest(call: &Call) -> Result<[u8; 32], Problem> {
    read_digest(call.path("sha256")).ok_or_else(|| {
        let detail =
            "a photograph's address ends with the SHA-256 of its bytes in 64 hexadecimal digits";
        Problem::new(Kind::MALFORMED, detail)
    })
}

fn within_limits(store: &Store, sender: Option<PartyId>, now: Instant) -> Result<(), Problem> {
    let sent = store.photos_sent_since(sender, Instant(now.0 - DAY_MICROS))?;
    if sent.count < SENT_MAX && sent.bytes < SENT_BYTES_MAX {
        return Ok(());
    }
    let detail = format!(
        "in 24 hours {SENT_MAX} photographs and {SENT_BYTES_MAX} bytes of them are taken from one sender"
    );
    Err(Problem::new(Kind::TOO_MANY, detail)
        .with_header(header::RETRY_AFTER, HeaderValue::from_static(RETRY_AFTER_SECONDS)))
}

/// The media type of a picture by its first bytes: JPEG (ITU-T T.81), PNG (RFC 2083, section 3.1), WebP (RFC
/// 9649, section 2.3). Nothing else is taken: a page or a drawing could hold a program.
pub(crate) fn picture(bytes: &[u8]) -> Option<&'static str> {
    if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
        Some("image/jpeg")
    } else if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        Some("image/png")
    } else if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        Some("image/webp")
    } else {
        None
    }
}

fn no_picture() -> Problem {
    let detail = "only pictures are taken: JPEG, PNG or WebP, told by their first bytes";
    let accepted = HeaderValue::from_static("image/jpeg, image/png, image/webp");
    Problem::new(Kind::UNSUPPORTED_MEDIA_TYPE, detail).with_header(header::ACCEPT, accepted)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pictures_are_told_by_their_bytes() {
        for (bytes, expected) in [
            (&b"\xff\xd8\xff\xe0\x00\x10JFIF"[..], Some("image/jpeg")),
            (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR", Some("image/png")),
            (b"RIFF\x24\0\0\0WEBPVP8 ", Some("image/webp")),
            (b"RIFF\x24\0\0\0WAVEfmt ", None),
            (b"<svg xmlns=\"http://www.w3.org/2000/svg\"/>", None),
            (b"<!doctype html><script>1</script>", None),
            (b"GIF89a", None),
            (b"%PDF-1.7", None),
            (b"", None),
        ] {
            assert_eq!(picture(bytes), expected, "{bytes:?}");
        }
    }
}
