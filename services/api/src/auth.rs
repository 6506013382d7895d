//! Who is asking: keys, and the extractors without which no handler learns anything.
//!
//! A key is `gudgeon_` and 32 random bytes in base64url; only its SHA-256 is stored. The API takes keys
//! from the header `Authorization` alone, the pages from a short-lived cookie alone, so that no foreign
//! page can make a browser post anything.

use crate::app::App;
use crate::problem::{Kind, Problem};
use actix_web::dev::Payload;
use actix_web::http::StatusCode;
use actix_web::http::header::{self, HeaderValue};
use actix_web::{FromRequest, HttpMessage, HttpRequest, HttpResponse, ResponseError, web};
use gudgeon_store::{Instant, NewKey, Principal, Role};
use sha2::{Digest, Sha256};
use std::fmt;
use std::future::Future;
use std::pin::Pin;

/// What every key begins with, so that scanners for leaked secrets can find it.
const KEY_PREFIX: &str = "gudgeon_";
/// 32 bytes in base64url without padding.
const KEY_CHARS: usize = 43;
/// The cookie that holds the short-lived key of a page reader.
const COOKIE: &str = "gudgeon-session";
/// How long a page reader stays signed in: a working day.
const SESSION_SECONDS: i64 = 12 * 3600;

/// A new key and what is stored of it.
///
/// # Panics
/// If the operating system gives no random bytes; nothing can be kept secret then.
#[must_use]
#[expect(clippy::expect_used, reason = "without random bytes no key may be given out")]
pub fn mint_key() -> (String, [u8; 32]) {
    let mut secret = [0; 32];
    getrandom::fill(&mut secret).expect("the operating system gives random bytes");
    let text = format!("{KEY_PREFIX}{}", base64url(&secret));
    let hash = hash(&text);
    (text, hash)
}

/// What is stored of a key. (A random 256-bit secret needs no slow hash.)
#[must_use]
pub fn hash(key: &str) -> [u8; 32] {
    Sha256::digest(key.as_bytes()).into()
}

/// RFC 4648 section 5, without padding.
pub(crate) fn base64url(bytes: &[u8]) -> String {
    const ALPHABET: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_";
    let mut text = String::new();
    for chunk in bytes.chunks(3) {
        let bits = chunk.iter().fold(0_u32, |acc, byte| (acc << 8) | u32::from(*byte));
        let bits = bits << (8 * (3 - chunk.len()));
        for place in (0..=chunk.len()).map(|sextet| 18 - 6 * sextet) {
            let index = usize::try_from((bits >> place) & 63).unwrap_or_default();
            text.extend(ALPHABET.get(index).map(|letter| char::from(*letter)));
        }
    }
    text
}

/// Anybody with a valid key, but for owners. What a shop sees is narrowed to its engines where it is read.
#[derive(Clone, Debug)]
pub struct Reader(pub Principal);

/// Anybody with a valid key, owners too. What an owner sees is narrowed to his engines where it is read.
#[derive(Clone, Debug)]
pub struct Viewer(pub Principal);

/// A shop or the operator: may post facts.
#[derive(Clone, Debug)]
pub struct Writer(pub Principal);

/// An inspector or the operator: may give permissions. A workshop cannot permit itself anything.
#[derive(Clone, Debug)]
pub struct Inspector(pub Principal);

/// An inspector, the operator or an owner: may say which workshops see an engine. An owner's word is narrowed to
/// his engines where it is kept.
#[derive(Clone, Debug)]
pub struct Grantor(pub Principal);

/// The operator alone.
#[derive(Clone, Debug)]
pub struct Operator(pub Principal);

/// Somebody signed in to the pages; anybody else is led to `/sign-in`.
#[derive(Clone, Debug)]
pub struct PageReader(pub Principal);

/// The id of the key that was used, left with the request for the log.
#[derive(Clone, Copy, Debug)]
pub(crate) struct KeyUsed(pub(crate) i64);

type Pending<T, E> = Pin<Box<dyn Future<Output = Result<T, E>>>>;

impl FromRequest for Viewer {
    type Error = Problem;
    type Future = Pending<Self, Problem>;

    fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
        let req = req.clone();
        Box::pin(async move { bearer(&req).await.map(Self) })
    }
}

/// An extractor of whoever holds a key of one of these roles; anybody else is told which are needed.
macro_rules! holders {
    ($($who:ident: $($role:ident)|+, $needs:literal;)*) => {$(
        impl FromRequest for $who {
            type Error = Problem;
            type Future = Pending<Self, Problem>;

            fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
                let req = req.clone();
                Box::pin(async move {
                    let principal = bearer(&req).await?;
                    let may = matches!(principal.role, $(Role::$role)|+);
                    if may { Ok(Self(principal)) } else { Err(forbidden($needs)) }
                })
            }
        }
    )*};
}

holders! {
    Reader: Shop | Inspector | Operator, "a shop's, an inspector's or the operator's key";
    Writer: Shop | Operator, "a shop's or the operator's key";
    Inspector: Inspector | Operator, "an inspector's or the operator's key";
    Grantor: Owner | Inspector | Operator, "an owner's, an inspector's or the operator's key";
    Operator: Operator, "the operator's key";
}

impl FromRequest for PageReader {
    type Error = PageError;
    type Future = Pending<Self, PageError>;

    fn from_request(req: &HttpRequest, _: &mut Payload) -> Self::Future {
        let req = req.clone();
        Box::pin(async move {
            let Some(key) = session_key(&req) else { return Err(PageError::SignIn) };
            let principal = principal_of(&req, &key).await.map_err(PageError::Problem)?;
            principal.map(Self).ok_or(PageError::SignIn)
        })
    }
}

/// Why a page is not shown.
#[derive(Debug)]
pub enum PageError {
    /// Nobody is signed in.
    SignIn,
    /// Something failed.
    Problem(Problem),
}

impl fmt::Display for PageError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::SignIn => f.write_str("not signed in"),
            Self::Problem(problem) => problem.fmt(f),
        }
    }
}

impl ResponseError for PageError {
    fn status_code(&self) -> StatusCode {
        match self {
            Self::SignIn => StatusCode::SEE_OTHER,
            Self::Problem(problem) => problem.status_code(),
        }
    }

    fn error_response(&self) -> HttpResponse {
        match self {
            Self::SignIn => {
                HttpResponse::SeeOther().insert_header((header::LOCATION, "/sign-in")).finish()
            }
            Self::Problem(problem) => problem.error_response(),
        }
    }
}

/// Trades a key for a short-lived one in a cookie: the value of `Set-Cookie`, or `None` for a key that is
/// not valid, or an owner's: the pages are the inspector's and the workshops'.
///
/// # Errors
/// When the store fails.
pub async fn sign_in(app: &web::Data<App>, key: &str) -> Result<Option<HeaderValue>, Problem> {
    let offered = hash(key.trim());
    let (session, session_hash) = mint_key();
    let app = app.clone();
    web::block(move || {
        let now = (app.clock)();
        let principal = app.store.principal(&offered, now)?;
        let Some(principal) = principal.filter(|it| it.role != Role::Owner) else {
            return Ok(None);
        };
        let label = format!("{} (signed in)", principal.label);
        app.store.add_key(&NewKey {
            hash: session_hash,
            role: principal.role,
            party: principal.party,
            label: &label,
            created_at: now,
            expires_at: Some(Instant(now.0 + SESSION_SECONDS * 1_000_000)),
        })?;
        cookie(&app, &session, SESSION_SECONDS).map(Some)
    })
    .await?
}

/// Ends the session of a request, if it has one: the value of `Set-Cookie` that removes the cookie.
///
/// # Errors
/// When the store fails.
pub async fn sign_out(app: &web::Data<App>, req: &HttpRequest) -> Result<HeaderValue, Problem> {
    let session = session_key(req).map(|key| hash(&key));
    let app = app.clone();
    web::block(move || {
        if let Some(session) = session {
            app.store.revoke_key(&session, (app.clock)())?;
        }
        cookie(&app, "", 0)
    })
    .await?
}

fn cookie(app: &App, value: &str, seconds: i64) -> Result<HeaderValue, Problem> {
    let secure = if app.base_url.starts_with("https:") { "; Secure" } else { "" };
    let text =
        format!("{COOKIE}={value}; Path=/; Max-Age={seconds}; HttpOnly; SameSite=Strict{secure}");
    HeaderValue::from_str(&text).map_err(Problem::internal)
}

fn session_key(req: &HttpRequest) -> Option<String> {
    let cookies = req.headers().get_all(header::COOKIE).filter_map(|it| it.to_str().ok());
    let mut pairs = cookies.flat_map(|line| line.split(';')).filter_map(|it| it.split_once('='));
    let (_, value) = pairs.find(|(name, _)| name.trim() == COOKIE)?;
    Some(value.trim().to_owned())
}

async fn bearer(req: &HttpRequest) -> Result<Principal, Problem> {
    let Some(header) = req.headers().get(header::AUTHORIZATION) else {
        return Err(unauthenticated("no key was sent", "Bearer realm=\"gudgeon\""));
    };
    let scheme_and_key = header.to_str().ok().and_then(|text| text.split_once(' '));
    let key = match scheme_and_key {
        Some((scheme, key)) if scheme.eq_ignore_ascii_case("bearer") => key.trim().to_owned(),
        _ => {
            let detail = "the header `Authorization` holds no bearer key";
            return Err(unauthenticated(detail, "Bearer realm=\"gudgeon\""));
        }
    };
    principal_of(req, &key).await?.ok_or_else(|| {
        unauthenticated(
            "this key is not known, has expired or was revoked",
            "Bearer realm=\"gudgeon\", error=\"invalid_token\"",
        )
    })
}

async fn principal_of(req: &HttpRequest, key: &str) -> Result<Option<Principal>, Problem> {
    let shape = key.strip_prefix(KEY_PREFIX).is_some_and(|rest| rest.len() == KEY_CHARS);
    if !shape {
        return Ok(None);
    }
    let app = req
        .app_data::<web::Data<App>>()
        .ok_or_else(|| Problem::internal("the application's data was not registered"))?
        .clone();
    let hash = hash(key);
    let principal = web::block(move || app.store.principal(&hash, (app.clock)())).await??;
    if let Some(key) = principal.as_ref().and_then(|it| it.key) {
        req.extensions_mut().insert(KeyUsed(key));
    }
    Ok(principal)
}

fn unauthenticated(detail: &str, challenge: &'static str) -> Problem {
    Problem::new(Kind::UNAUTHENTICATED, detail)
        .with_header(header::WWW_AUTHENTICATE, HeaderValue::from_static(challenge))
}

/// What a key may not do.
pub(crate) fn forbidden(needs: &str) -> Problem {
    Problem::new(Kind::FORBIDDEN, format!("this needs {needs}")).with_header(
        header::WWW_AUTHENTICATE,
        HeaderValue::from_static("Bearer realm=\"gudgeon\", error=\"insufficient_scope\""),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    // The test vectors of RFC 4648 section 10, without padding; the last shows both letters of base64url.
    #[test]
    fn encodes_as_the_rfc_does() {
        for (bytes, text) in [
            (&b""[..], ""),
            (b"f", "Zg"),
            (b"fo", "Zm8"),
            (b"foo", "Zm9v"),
            (b"foob", "Zm9vYg"),
            (b"foobar", "Zm9vYmFy"),
            (&[0xfb, 0xff], "-_8"),
        ] {
            assert_eq!(base64url(bytes), text);
        }
    }

    #[test]
    fn keys_differ_and_have_their_form() {
        let (one, one_hash) = mint_key();
        let (two, _) = mint_key();
        assert_ne!(one, two);
        assert_eq!(one.len(), KEY_PREFIX.len() + KEY_CHARS);
        assert_eq!(hash(&one), one_hash);
    }
}
