//! What surrounds every request: its id, its line in the log, headers, and one form for all errors.

use crate::app::App;
use crate::auth::{KeyUsed, PageError};
use crate::problem::{Kind, Problem};
use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{self, HeaderMap, HeaderName, HeaderValue};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, HttpResponse, web};

/// Our header for the id of a request.
const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
/// An id that a client sends is taken over when it is no longer than this.
const REQUEST_ID_CHARS_MAX: usize = 64;

/// Headers that every answer carries unless its handler set them: nothing is cached, guessed, framed,
/// loaded from elsewhere or told to other places.
const HEADERS: [(HeaderName, &str); 4] = [
    (header::CACHE_CONTROL, "no-store"),
    (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
    (header::REFERRER_POLICY, "no-referrer"),
    (
        header::CONTENT_SECURITY_POLICY,
        "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'",
    ),
];

/// Wraps every route. Bodies, keys and names never reach the log.
pub(crate) async fn around(
    req: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let id = request_id(req.headers());
    let clock = req.app_data::<web::Data<App>>().map(|app| app.clock);
    let began = clock.map(|clock| clock());
    let html = wants_html(req.headers());
    // Handlers and extractors turn their own errors into responses; what is left comes from no route of ours.
    let (kept, response) = next.call(req).await?.map_into_boxed_body().into_parts();
    let mut response = presented(response, &id, html);
    for (name, value) in HEADERS {
        if !response.headers().contains_key(&name) {
            response.headers_mut().insert(name, HeaderValue::from_static(value));
        }
    }
    if let Ok(value) = HeaderValue::from_str(&id) {
        response.headers_mut().insert(REQUEST_ID, value);
    }
    let micros = clock.zip(began).map(|(clock, began)| clock().0 - began.0).unwrap_or_default();
    tracing::info!(
        method = %kept.method(),
        route = kept.match_pattern().unwrap_or_default(),
        status = response.status().as_u16(),
        ms = micros / 1000,
        request = id,
        key = kept.extensions().get::<KeyUsed>().map(|key| key.0),
        "answered"
    );
    Ok(ServiceResponse::new(kept, response))
}

/// The id of a request: the client's, when it is a plain word, or a new random one.
fn request_id(headers: &HeaderMap) -> String {
    let plain = |id: &&str| {
        (1..=REQUEST_ID_CHARS_MAX).contains(&id.len())
            && id.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'_' | b'.'))
    };
    let sent = headers.get(REQUEST_ID).and_then(|value| value.to_str().ok()).filter(plain);
    sent.map_or_else(
        || {
            let mut bytes = [0; 16];
            // An id need not be secret; without random bytes all are alike, which only the log suffers from.
            let _ = getrandom::fill(&mut bytes);
            uuid::Builder::from_random_bytes(bytes).into_uuid().to_string()
        },
        str::to_owned,
    )
}

/// The answer as it leaves: errors of ours and of the framework in one form, a page for a browser.
fn presented(response: HttpResponse, id: &str, html: bool) -> HttpResponse {
    let status = response.status();
    if !status.is_client_error() && !status.is_server_error() {
        return response;
    }
    let of_error = response.error().and_then(|error| {
        error.as_error::<Problem>().cloned().or_else(|| {
            error.as_error::<PageError>().and_then(|error| match error {
                PageError::Problem(problem) => Some(problem.clone()),
                PageError::SignIn => None,
            })
        })
    });
    let problem = match of_error {
        Some(problem) => problem,
        // A handler that wrote its own error page has said what it wants to say.
        None if response.headers().contains_key(header::CONTENT_TYPE)
            && response.error().is_none() =>
        {
            return response;
        }
        None => {
            let kind = Kind::of_status(status);
            Problem::new(kind, kind.advice)
        }
    };
    if let Some(cause) = problem.cause() {
        tracing::error!(request = id, cause, "request failed");
    }
    let document = problem.response(id);
    if !html {
        return document;
    }
    let mut page = HttpResponse::build(document.status());
    page.content_type("text/html; charset=utf-8").body(error_page(&problem, id))
}

/// Whether a browser is asking for a page, rather than a program for data.
fn wants_html(headers: &HeaderMap) -> bool {
    let accept = headers.get(header::ACCEPT).and_then(|value| value.to_str().ok());
    accept.is_some_and(|accept| accept.contains("text/html"))
}

fn error_page(problem: &Problem, id: &str) -> String {
    let Kind { title, advice, .. } = *problem.kind;
    let detail = escaped(&problem.detail);
    format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"><title>{title}</title><link rel=\"stylesheet\" href=\"/style.css\"></head>\n<body><main><h1>{title}</h1><p>{detail}</p><p>{advice}</p><p>Request {id}</p><p><a href=\"/\">To the first page</a></p></main></body></html>\n"
    )
}

/// Text made safe inside an HTML element.
pub(crate) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
