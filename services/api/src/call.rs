//! One request as a handler sees it: path, query, body, clock. Each is read strictly.

use crate::app::App;
use crate::problem::{Kind, Problem};
use crate::read::{Fault, day, nearest};
use actix_web::body::{BodyStream, to_bytes_limited};
use actix_web::dev::Payload;
use actix_web::http::header::{self, HeaderName, HeaderValue};
use actix_web::{FromRequest, HttpRequest, web};
use chrono::{DateTime, NaiveDate};
use gudgeon_life::ids::Uid;
use gudgeon_life::status::Status;
use gudgeon_store::Instant;
use std::future::{Ready, ready};

/// Bytes in a body.
const BODY_BYTES_MAX: usize = 1024 * 1024;
/// Entries on one page of a list, when the client does not say.
const PAGE_DEFAULT: i64 = 50;
/// Entries on one page of a list at most.
const PAGE_MAX: i64 = 500;

/// A request with its application. The body is read only when it is asked for, after the key was checked.
pub(crate) struct Call {
    req: HttpRequest,
    payload: Payload,
    pub(crate) app: web::Data<App>,
    /// When it arrived.
    pub(crate) now: Instant,
}

impl FromRequest for Call {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(req: &HttpRequest, payload: &mut Payload) -> Self::Future {
        let Some(app) = req.app_data::<web::Data<App>>().cloned() else {
            return ready(Err(Problem::internal("the application's data was not registered")));
        };
        let now = (app.clock)();
        ready(Ok(Self { req: req.clone(), payload: payload.take(), app, now }))
    }
}

impl Call {
    /// The day in UTC.
    pub(crate) fn today(&self) -> NaiveDate {
        day_of(self.now)
    }

    /// The UUID at this place of the path.
    pub(crate) fn uid(&self, name: &str) -> Result<Uid, Problem> {
        let text = self.path(name);
        Uid::parse(text).ok_or_else(|| {
            let detail = "the address holds something that is not a UUID; write it such as 017f22e2-79b0-7cc3-98c4-dc0c0c07398f";
            Problem::malformed(Fault {
                pointer: String::new(),
                code: "bad-uuid",
                detail: detail.to_owned(),
            })
        })
    }

    /// The text at this place of the path.
    pub(crate) fn path(&self, name: &str) -> &str {
        self.req.match_info().get(name).unwrap_or_default()
    }

    /// The path itself, for a `Location`.
    pub(crate) fn address(&self) -> String {
        self.req.path().to_owned()
    }

    /// What the body is sent as, with its parameters; empty when that is not said.
    pub(crate) fn content_type(&self) -> &str {
        self.header(&header::CONTENT_TYPE)
    }

    /// A header of the request; empty when it was not sent.
    pub(crate) fn header(&self, name: &HeaderName) -> &str {
        let sent = self.req.headers().get(name);
        sent.and_then(|value| value.to_str().ok()).unwrap_or_default()
    }

    /// The query, where only these parameters are known.
    pub(crate) fn query(&self, known: &[&'static str]) -> Result<Query, Problem> {
        let pairs = web::Query::<Vec<(String, String)>>::from_query(self.req.query_string());
        let pairs = pairs
            .map(web::Query::into_inner)
            .map_err(|error| bad_parameter(&format!("the query cannot be read: {error}")))?;
        for (at, (name, _)) in pairs.iter().enumerate() {
            if !known.contains(&name.as_str()) {
                let hint = nearest(name, known.iter().copied());
                let hint = hint.first().map(|it| format!("; did you mean `{it}`?"));
                let hint = hint.unwrap_or_default();
                return Err(bad_parameter(&format!(
                    "no query parameter `{name}` is known here{hint}"
                )));
            }
            if pairs.iter().skip(at + 1).any(|(other, _)| other == name) {
                return Err(bad_parameter(&format!("the query parameter `{name}` is given twice")));
            }
        }
        Ok(Query(pairs))
    }

    /// The whole body, of the given media type.
    pub(crate) async fn body(self, media_type: &'static str) -> Result<web::Bytes, Problem> {
        let headers = self.req.headers();
        let essence = self.content_type().split(';').next().unwrap_or_default();
        if !essence.trim().eq_ignore_ascii_case(media_type) {
            return Err(wrong_type(
                format!("the body has to be sent as `{media_type}`"),
                media_type,
            ));
        }
        if headers.contains_key(header::CONTENT_ENCODING) {
            return Err(wrong_type(
                "the body has to be sent as it is, not compressed".to_owned(),
                media_type,
            ));
        }
        self.bytes(BODY_BYTES_MAX).await
    }

    /// The whole body, of whatever type, with so many bytes at most.
    pub(crate) async fn bytes(self, bytes_max: usize) -> Result<web::Bytes, Problem> {
        match to_bytes_limited(BodyStream::new(self.payload), bytes_max).await {
            Ok(Ok(body)) => Ok(body),
            Ok(Err(_)) => Err(Problem::new(Kind::MALFORMED, "the body broke off before its end")),
            Err(_) => Err(Problem::new(
                Kind::TOO_LARGE,
                format!("the body holds more than {bytes_max} bytes"),
            )),
        }
    }
}

/// The day of an instant in UTC.
pub(crate) fn day_of(at: Instant) -> NaiveDate {
    DateTime::from_timestamp_micros(at.0).unwrap_or_default().date_naive()
}

/// The parameters of a query, all known and none twice.
pub(crate) struct Query(Vec<(String, String)>);

impl Query {
    pub(crate) fn get(&self, name: &str) -> Option<&str> {
        self.0.iter().find(|(known, _)| known == name).map(|(_, value)| value.as_str())
    }

    /// The day that a list is asked for.
    pub(crate) fn as_of(&self, today: NaiveDate) -> Result<NaiveDate, Problem> {
        self.get("as_of").map_or(Ok(today), |text| {
            day(text).ok_or_else(|| bad_parameter("`as_of` is a day such as 2026-11-25"))
        })
    }

    pub(crate) fn status(&self) -> Result<Option<Status>, Problem> {
        let Some(text) = self.get("status") else { return Ok(None) };
        let known = Status::ALL.into_iter().find(|status| status.word() == text);
        known.map(Some).ok_or_else(|| {
            let words: Vec<&str> = Status::ALL.iter().map(|status| status.word()).collect();
            bad_parameter(&format!("`status` is one of {}", words.join(", ")))
        })
    }

    pub(crate) fn limit(&self) -> Result<i64, Problem> {
        self.get("limit").map_or(Ok(PAGE_DEFAULT), |text| {
            text.parse().ok().filter(|limit| (1..=PAGE_MAX).contains(limit)).ok_or_else(|| {
                bad_parameter(&format!("`limit` is a whole number from 1 to {PAGE_MAX}"))
            })
        })
    }

    /// Where the page before ended, as [`cursor`] wrote it.
    pub(crate) fn after(&self) -> Result<Option<(i16, i64)>, Problem> {
        let Some(text) = self.get("after") else { return Ok(None) };
        let parts = text.strip_prefix('r').and_then(|rest| rest.split_once('k'));
        let place = parts.and_then(|(rank, key)| Some((rank.parse().ok()?, key.parse().ok()?)));
        place.map(Some).ok_or_else(|| {
            bad_parameter("`after` is what `next` of the page before held; nothing else is known")
        })
    }
}

/// The place where a page ends. Clients hand it back as it is and read nothing from it.
pub(crate) fn cursor(rank: i16, key: i64) -> String {
    format!("r{rank}k{key}")
}

/// A parameter of a query that is not right.
pub(crate) fn bad_parameter(detail: &str) -> Problem {
    Problem::malformed(Fault {
        pointer: String::new(),
        code: "bad-parameter",
        detail: detail.to_owned(),
    })
}

fn wrong_type(detail: String, accepted: &'static str) -> Problem {
    Problem::new(Kind::UNSUPPORTED_MEDIA_TYPE, detail)
        .with_header(header::ACCEPT, HeaderValue::from_static(accepted))
}
