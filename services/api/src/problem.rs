//! What an answer says when something is wrong: RFC 9457 problem documents, all kinds in one table.

use crate::read::Fault;
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::{HttpResponse, ResponseError};
use serde::Serialize;
use std::fmt;

/// When to ask again while the database is away: about what a server takes to start.
const RETRY_AFTER_SECONDS: &str = "5";

/// A kind of problem: what `type` names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kind {
    /// The last part of its `type`, `/problems/<slug>`.
    pub slug: &'static str,
    /// The HTTP status it comes with.
    pub status: u16,
    /// What it is called.
    pub title: &'static str,
    /// What to do about it.
    pub advice: &'static str,
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $name:ident = ($slug:literal, $status:literal, $title:literal, $advice:literal);)*) => {
        impl Kind {
            $($(#[$doc])* pub const $name: &'static Self =
                &Self { slug: $slug, status: $status, title: $title, advice: $advice };)*

            /// Every kind there is.
            pub const ALL: &[&'static Self] = &[$(Self::$name),*];
        }
    };
}

kinds! {
    /// The body or the address cannot be read at all.
    MALFORMED = ("malformed-request", 400, "The request cannot be read",
        "Send JSON as RFC 8259 defines it, in UTF-8. The errors say where reading stopped. Nothing was stored.");
    /// No key, or one that is not known.
    UNAUTHENTICATED = ("unauthenticated", 401, "A valid key is needed",
        "Send the header `Authorization: Bearer <key>` with a key that has not been revoked and has not expired. The operator gives out keys.");
    /// The key is valid, but not for this.
    FORBIDDEN = ("forbidden", 403, "This key may not do that",
        "Use a key with the role that the detail names.");
    /// Nothing there, or nothing that this key may see.
    NOT_FOUND = ("not-found", 404, "Nothing is here",
        "Check the address. What a key may not see is answered like what does not exist.");
    /// The address exists, the method does not.
    METHOD_NOT_ALLOWED = ("method-not-allowed", 405, "The method is not allowed here",
        "The header `Allow` lists the methods of this address.");
    /// The id is taken by other content.
    DIFFERENT_CONTENT = ("different-content", 409, "This id is here with other content",
        "Nothing was changed. The same content under the same id is accepted any number of times. To correct a record, post an amendment; for a new record, make a new id.");
    /// Somebody who was erased is not told of again.
    ERASED = ("erased", 409, "This person or workshop was erased",
        "Nothing was changed, and nothing personal is kept under this id any more. Register whoever comes back under a new id.");
    /// The body is larger than is taken.
    TOO_LARGE = ("too-large", 413, "The body is too large",
        "A body may hold 1 MiB (1 048 576 bytes) at most, a photograph 5 MiB (5 242 880 bytes).");
    /// The body is of another kind than is taken.
    UNSUPPORTED_MEDIA_TYPE = ("unsupported-media-type", 415, "The body is of the wrong type",
        "Send the `Content-Type` that the detail names, without a `Content-Encoding`.");
    /// The body can be read, but not all of it is right.
    INVALID = ("invalid-content", 422, "The content is not right",
        "Every fault is listed under `errors`, each with a JSON pointer (RFC 6901) into the body. Nothing was stored.");
    /// More was sent than is taken for now.
    TOO_MANY = ("too-many", 429, "Too much was sent for now",
        "Send the same request again after the seconds that the header `Retry-After` names.");
    /// Something failed on our side.
    INTERNAL = ("internal", 500, "Something failed here",
        "Send the same request again: every PUT may be repeated. If it fails again, give the operator the id under `instance`.");
    /// The database does not answer, takes nothing, or is not at the version that this program needs.
    NOT_READY = ("not-ready", 503, "Not ready",
        "Send the same request again after the seconds that the header `Retry-After` names: every PUT may be repeated.");
}

impl Kind {
    /// The kind with this slug.
    #[must_use]
    pub fn of_slug(slug: &str) -> Option<&'static Self> {
        Self::ALL.iter().copied().find(|kind| kind.slug == slug)
    }

    /// The kind that says most about a bare status, for errors raised by the framework.
    #[must_use]
    pub fn of_status(status: StatusCode) -> &'static Self {
        let exact = Self::ALL.iter().copied().find(|kind| kind.status == status.as_u16());
        exact.unwrap_or(if status.is_client_error() { Self::MALFORMED } else { Self::INTERNAL })
    }

    /// Its address, which explains it.
    #[must_use]
    pub fn address(&self) -> String {
        format!("/problems/{}", self.slug)
    }

    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }
}

/// One problem, on its way to the client.
#[derive(Clone, Debug)]
pub struct Problem {
    /// What kind.
    pub kind: &'static Kind,
    /// A sentence about this case.
    pub detail: String,
    /// The faults in the body, where there are any.
    pub faults: Vec<Fault>,
    /// A header that the status asks for.
    header: Option<Box<(HeaderName, HeaderValue)>>,
    /// What failed here, for the log alone.
    cause: Option<Box<str>>,
}

impl Problem {
    /// A problem of this kind.
    pub fn new(kind: &'static Kind, detail: impl Into<String>) -> Self {
        Self { kind, detail: detail.into(), faults: Vec::new(), header: None, cause: None }
    }

    /// The same with a header.
    #[must_use]
    pub fn with_header(mut self, name: HeaderName, value: HeaderValue) -> Self {
        self.header = Some(Box::new((name, value)));
        self
    }

    /// A body that can be read, but holds these faults.
    #[must_use]
    pub fn invalid(faults: Vec<Fault>) -> Self {
        let detail = match faults.as_slice() {
            [only] => only.detail.clone(),
            several => format!("{} things are not right; see `errors`", several.len()),
        };
        Self { faults, ..Self::new(Kind::INVALID, detail) }
    }

    /// A body that cannot be read.
    #[must_use]
    pub fn malformed(fault: Fault) -> Self {
        let detail = fault.detail.clone();
        Self { faults: vec![fault], ..Self::new(Kind::MALFORMED, detail) }
    }

    /// Nothing is there, or nothing that the asker may see: the two are not told apart.
    #[must_use]
    pub fn not_found(what: &str) -> Self {
        Self::new(Kind::NOT_FOUND, format!("no {what} is here, or this key may not see it"))
    }

    /// Something failed here. The cause goes to the log, once; the client learns the request's id.
    pub fn internal(cause: impl fmt::Display) -> Self {
        let problem = Self::new(Kind::INTERNAL, "the cause is in the log under the request's id");
        Self { cause: Some(cause.to_string().into()), ..problem }
    }

    /// The database does not do its part just now. The cause goes to the log.
    #[must_use]
    pub fn not_ready(cause: impl fmt::Display) -> Self {
        let problem =
            Self::new(Kind::NOT_READY, "the database does not answer as it should just now")
                .with_header(header::RETRY_AFTER, HeaderValue::from_static(RETRY_AFTER_SECONDS));
        Self { cause: Some(cause.to_string().into()), ..problem }
    }

    /// What failed here, for the log alone.
    #[must_use]
    pub fn cause(&self) -> Option<&str> {
        self.cause.as_deref()
    }

    /// The response with its document; `request` is the id of the request.
    #[must_use]
    pub fn response(&self, request: &str) -> HttpResponse {
        let errors = self.faults.iter().map(|fault| FaultOut {
            pointer: &fault.pointer,
            code: fault.code,
            detail: &fault.detail,
        });
        let document = Document {
            kind: self.kind.address(),
            title: self.kind.title,
            status: self.kind.status,
            detail: &self.detail,
            instance: request,
            errors: errors.collect(),
        };
        let mut response = HttpResponse::build(self.kind.status_code());
        if let Some(header) = self.header.clone() {
            response.insert_header(*header);
        }
        // Plain texts and numbers always have a JSON form.
        let body = serde_json::to_string(&document).unwrap_or_default();
        response.insert_header((header::CONTENT_TYPE, "application/problem+json")).body(body)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.kind.slug, self.detail)
    }
}

impl std::error::Error for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        self.kind.status_code()
    }

    /// The outer layer, which knows the request's id, makes the document anew.
    fn error_response(&self) -> HttpResponse {
        self.response("")
    }
}

impl From<gudgeon_store::StoreError> for Problem {
    fn from(error: gudgeon_store::StoreError) -> Self {
        match error {
            // What the store will not keep is for the sender to change.
            gudgeon_store::StoreError::Refused(why) => Self::new(Kind::INVALID, why),
            gudgeon_store::StoreError::Unavailable(why) => Self::not_ready(why),
            // It was there when the service began: its disk is full, or gone.
            gudgeon_store::StoreError::Open { .. } | gudgeon_store::StoreError::Missing(_) => {
                Self::not_ready(error)
            }
            other => Self::internal(other),
        }
    }
}

impl From<actix_web::error::BlockingError> for Problem {
    fn from(error: actix_web::error::BlockingError) -> Self {
        Self::internal(error)
    }
}

#[derive(Serialize)]
struct Document<'a> {
    #[serde(rename = "type")]
    kind: String,
    title: &'a str,
    status: u16,
    detail: &'a str,
    instance: &'a str,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    errors: Vec<FaultOut<'a>>,
}

#[derive(Serialize)]
struct FaultOut<'a> {
    pointer: &'a str,
    code: &'a str,
    detail: &'a str,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_own_slug_and_an_error_status() {
        for kind in Kind::ALL {
            assert_eq!(Kind::of_slug(kind.slug), Some(*kind));
            assert!((400..600).contains(&kind.status), "{}", kind.slug);
            assert!(gudgeon_life::ids::is_slug(kind.slug), "{}", kind.slug);
        }
    }

    #[test]
    fn a_bare_status_of_the_framework_finds_its_kind() {
        assert_eq!(Kind::of_status(StatusCode::PAYLOAD_TOO_LARGE), Kind::TOO_LARGE);
        assert_eq!(Kind::of_status(StatusCode::EXPECTATION_FAILED), Kind::MALFORMED);
        assert_eq!(Kind::of_status(StatusCode::BAD_GATEWAY), Kind::INTERNAL);
    }
}
