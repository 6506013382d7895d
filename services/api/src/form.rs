//! Forms as browsers send them, and as mail services send the one of RFC 8058: both encodings that HTML knows.

use crate::call::Call;
use crate::problem::{Kind, Problem};
use actix_web::http::header::{self, HeaderValue};
use actix_web::web;

/// Bytes in a form: a note of 2,000 characters, however it is encoded, with room to spare.
const FORM_BYTES_MAX: usize = 64 * 1024;
/// What forms are sent as.
const ACCEPTED: &str = "application/x-www-form-urlencoded, multipart/form-data";

/// What was filled in, in the order in which it was sent.
pub(crate) struct Form(Vec<(String, String)>);

impl Form {
    /// Reads the form that a request brings.
    ///
    /// # Errors
    /// A body that is too large, is no text, or is sent as anything else.
    pub(crate) async fn of(call: Call) -> Result<Self, Problem> {
        let sent = call.content_type().to_owned();
        let body = call.bytes(FORM_BYTES_MAX).await?;
        let body = std::str::from_utf8(&body)
            .ok()
            .ok_or_else(|| Problem::new(Kind::MALFORMED, "the form is not sent in UTF-8"))?;
        let (essence, parameters) = sent.split_once(';').unwrap_or((&sent, ""));
        let pairs = match essence.trim().to_ascii_lowercase().as_str() {
            "application/x-www-form-urlencoded" => urlencoded(body),
            "multipart/form-data" => boundary(parameters).map(|it| multipart(body, it)),
            _ => {
                let detail = "a form has to be sent as browsers send it";
                let accepted = HeaderValue::from_static(ACCEPTED);
                return Err(Problem::new(Kind::UNSUPPORTED_MEDIA_TYPE, detail)
                    .with_header(header::ACCEPT, accepted));
            }
        };
        pairs.map(Self).ok_or_else(|| Problem::new(Kind::MALFORMED, "the form cannot be read"))
    }

    /// What was filled in under a name, without space around it; empty when nothing was.
    pub(crate) fn get(&self, name: &str) -> &str {
        let found = self.0.iter().find(|(known, _)| known == name);
        found.map_or("", |(_, value)| value.trim())
    }
}

fn urlencoded(body: &str) -> Option<Vec<(String, String)>> {
    web::Query::<Vec<(String, String)>>::from_query(body).ok().map(web::Query::into_inner)
}

/// The boundary among the parameters of a content type (RFC 2046, section 5.1.1).
fn boundary(parameters: &str) -> Option<&str> {
    let named = parameters.split(';').filter_map(|it| it.trim().split_once('='));
    let found = named.into_iter().find(|(name, _)| name.eq_ignore_ascii_case("boundary"));
    found.map(|(_, value)| value.trim_matches('"')).filter(|it| !it.is_empty())
}

/// The fields of a form in parts (RFC 7578, section 4): texts alone, no files.
fn multipart(body: &str, boundary: &str) -> Vec<(String, String)> {
    let delimiter = format!("--{boundary}");
    let parts = body.split(delimiter.as_str()).skip(1);
    let field = |part: &str| {
        let (head, value) = part.split_once("\r\n\r\n")?;
        let (_, rest) = head.split_once(" name=\"")?;
        let (name, _) = rest.split_once('"')?;
        Some((name.to_owned(), value.strip_suffix("\r\n").unwrap_or(value).to_owned()))
    };
    parts.filter_map(field).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    // The form of RFC 8058, section 8.1 and 8.2, in both encodings.
    #[test]
    fn reads_the_one_click_form_in_both_encodings() {
        let one_click = ("List-Unsubscribe".to_owned(), "One-Click".to_owned());
        assert_eq!(urlencoded("List-Unsubscribe=One-Click"), Some(vec![one_click.clone()]));
        let body = "--FormBoundaryjWmhtjORrn\r\nContent-Disposition: form-data; name=\"List-Unsubscribe\"\r\n\r\nOne-Click\r\n--FormBoundaryjWmhtjORrn--\r\n";
        let boundary = boundary(" boundary=FormBoundaryjWmhtjORrn").expect("a boundary");
        assert_eq!(multipart(body, boundary), [one_click]);
    }

    #[test]
    fn a_value_may_hold_what_looks_like_an_end() {
        let pairs = urlencoded("note=a%26b%3Dc+d%0D%0A&meter=1043%2C2").expect("a form");
        assert_eq!(Form(pairs).get("note"), "a&b=c d");
        assert_eq!(boundary("charset=utf-8"), None);
        assert_eq!(boundary("; Boundary=\"a b\""), Some("a b"));
    }
}
