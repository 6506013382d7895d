//! DKIM signatures (RFC 6376): that a mail is from the domain that it says it is from, and as it was sent.
//!
//! Canonicalised relaxed/relaxed, over whole bodies. The time in a signature is an argument, so that the same
//! mail has the same bytes whenever it is made. Checked against an independent implementation by the tests.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use ring::rand::SystemRandom;
use ring::signature::{Ed25519KeyPair, RSA_PKCS1_SHA256, RsaKeyPair};
use rustls::pki_types::PrivateKeyDer;
use rustls::pki_types::pem::PemObject as _;
use std::fmt;

/// The headers that are signed, where a mail has them. The first four are named once more than they are there, so
/// that nobody can add another.
const SIGNED: [&str; 12] = [
    "from",
    "subject",
    "to",
    "date",
    "reply-to",
    "message-id",
    "mime-version",
    "content-type",
    "list-id",
    "list-unsubscribe",
    "list-unsubscribe-post",
    "auto-submitted",
];
/// How many of [`SIGNED`] are named once more.
const OVERSIGNED: usize = 4;
/// The shortest RSA key, in bytes: 2048 bits, as RFC 8301 asks for.
const RSA_BYTES_MIN: usize = 256;
/// Characters of a signature on one line.
const LINE_CHARS: usize = 72;

/// Signs the mails of one domain.
pub struct Dkim {
    domain: String,
    selector: String,
    key: Key,
}

enum Key {
    Rsa(RsaKeyPair),
    Ed25519(Ed25519KeyPair),
}

// The key is nobody's business.
impl fmt::Debug for Dkim {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { domain, selector, .. } = self;
        f.debug_struct("Dkim")
            .field("domain", domain)
            .field("selector", selector)
            .finish_non_exhaustive()
    }
}

/// Why a key cannot sign.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DkimError {
    /// It is no private key in PEM.
    NoKey(String),
    /// It is of a kind or size that nobody verifies.
    Unsuited(String),
    /// Domain or selector is no name that a record can be published under.
    Name(String),
}

impl fmt::Display for DkimError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoKey(why) => {
                write!(f, "it holds no private key in PEM ({why}); `openssl genrsa 2048` makes one")
            }
            Self::Unsuited(why) => {
                write!(
                    f,
                    "its key cannot be used ({why}); use RSA of 2048 bits or more, or Ed25519"
                )
            }
            Self::Name(name) => {
                write!(f, "`{name}` is not a name of letters, digits, hyphens and dots")
            }
        }
    }
}

impl std::error::Error for DkimError {}

impl Dkim {
    /// Signs for a domain with a private key in PEM. Its public half is published at
    /// `selector._domainkey.domain`.
    ///
    /// # Errors
    /// [`DkimError`] says what is wrong with the key or a name.
    pub fn new(domain: &str, selector: &str, pem: &[u8]) -> Result<Self, DkimError> {
        for name in [domain, selector] {
            if !is_name(name) {
                return Err(DkimError::Name(name.to_owned()));
            }
        }
        let der = PrivateKeyDer::from_pem_slice(pem)
            .map_err(|error| DkimError::NoKey(error.to_string()))?;
        let unsuited = |error: ring::error::KeyRejected| DkimError::Unsuited(error.to_string());
        let key = match der {
            PrivateKeyDer::Pkcs1(key) => {
                Key::Rsa(RsaKeyPair::from_der(key.secret_pkcs1_der()).map_err(unsuited)?)
            }
            PrivateKeyDer::Pkcs8(key) => {
                let der = key.secret_pkcs8_der();
                match Ed25519KeyPair::from_pkcs8_maybe_unchecked(der) {
                    Ok(key) => Key::Ed25519(key),
                    Err(_) => Key::Rsa(RsaKeyPair::from_pkcs8(der).map_err(unsuited)?),
                }
            }
            _ => return Err(DkimError::Unsuited("it is of another kind".to_owned())),
        };
        if let Key::Rsa(key) = &key
            && key.public().modulus_len() < RSA_BYTES_MIN
        {
            return Err(DkimError::Unsuited("it is too short".to_owned()));
        }
        Ok(Self { domain: domain.to_owned(), selector: selector.to_owned(), key })
    }

    /// The mail with its signature in front. `at` is when it was made, in seconds since 1970.
    ///
    /// # Errors
    /// In words, when the mail has no end of its headers, or the key does not sign.
    pub fn sign(&self, message: &[u8], at: u64) -> Result<Vec<u8>, String> {
        let message_text =
            std::str::from_utf8(message).map_err(|error| format!("it is not UTF-8: {error}"))?;
        let (head, body) = message_text.split_once("\r\n\r\n").ok_or("it has no body")?;
        let headers = headers(&format!("{head}\r\n"));
        let has = |name: &str| headers.iter().any(|(it, _)| it == name);
        let present = SIGNED.into_iter().filter(|name| has(name));
        let names: Vec<&str> = present.chain(SIGNED.into_iter().take(OVERSIGNED)).collect();

        let Self { domain, selector, .. } = self;
        let algorithm = match self.key {
            Key::Rsa(_) => "rsa-sha256",
            Key::Ed25519(_) => "ed25519-sha256",
        };
        let body_hash = STANDARD.encode(sha256(relaxed_body(body).as_bytes()));
        let unsigned = format!(
            "v=1; a={algorithm}; c=relaxed/relaxed; d={domain}; s={selector};\r\n t={at};\r\n h={};\r\n bh={body_hash};\r\n b=",
            names.join(":")
        );
        let mut hashed = String::new();
        for (index, name) in names.iter().enumerate() {
            // A name that stands there again means the next one further up, and here there is none.
            if !names.iter().take(index).any(|before| before == name)
                && let Some((_, value)) = headers.iter().rev().find(|(it, _)| it == name)
            {
                hashed.push_str(&format!("{name}:{value}\r\n"));
            }
        }
        hashed.push_str(&format!("dkim-signature:{}", relaxed_value(&unsigned)));
        let signature = STANDARD.encode(self.signature(hashed.as_bytes())?);
        let mut out = format!("DKIM-Signature: {unsigned}{}\r\n", folded(&signature)).into_bytes();
        out.extend_from_slice(message);
        Ok(out)
    }

    fn signature(&self, hashed: &[u8]) -> Result<Vec<u8>, String> {
        match &self.key {
            Key::Rsa(key) => {
                let mut signature = vec![0; key.public().modulus_len()];
                key.sign(&RSA_PKCS1_SHA256, &SystemRandom::new(), hashed, &mut signature)
                    .map_err(|error| format!("the key does not sign: {error}"))?;
                Ok(signature)
            }
            // RFC 8463, section 3: over the hash.
            Key::Ed25519(key) => Ok(key.sign(&sha256(hashed)).as_ref().to_vec()),
        }
    }
}

fn sha256(bytes: &[u8]) -> Vec<u8> {
    ring::digest::digest(&ring::digest::SHA256, bytes).as_ref().to_vec()
}

/// Whether it can stand in the name of a record.
fn is_name(name: &str) -> bool {
    let letters = |it: u8| it.is_ascii_alphanumeric() || it == b'-' || it == b'.' || it == b'_';
    !name.is_empty() && name.len() < 200 && name.bytes().all(letters)
}

/// The headers of a head, each line of which ends in CRLF: names in small letters, values relaxed.
fn headers(head: &str) -> Vec<(String, String)> {
    let mut headers: Vec<(String, String)> = Vec::new();
    for line in head.split_inclusive("\r\n") {
        match headers.last_mut() {
            Some((_, value)) if line.starts_with([' ', '\t']) => value.push_str(line),
            _ => {
                if let Some((name, value)) = line.split_once(':') {
                    headers.push((name.trim().to_ascii_lowercase(), value.to_owned()));
                }
            }
        }
    }
    headers.into_iter().map(|(name, value)| (name, relaxed_value(&value))).collect()
}

/// A header's value in one line, one space for each run of white space (RFC 6376, section 3.4.2).
fn relaxed_value(value: &str) -> String {
    let words: Vec<&str> =
        value.split([' ', '\t', '\r', '\n']).filter(|it| !it.is_empty()).collect();
    words.join(" ")
}

/// A body without white space at the ends of lines or empty lines at its end, and one space for each run of white
/// space (RFC 6376, section 3.4.4).
fn relaxed_body(body: &str) -> String {
    let mut out = String::with_capacity(body.len());
    let mut empty = 0;
    for line in body.split("\r\n") {
        let mut relaxed = String::with_capacity(line.len());
        for letter in line.trim_end_matches([' ', '\t']).chars() {
            match letter {
                ' ' | '\t' if relaxed.ends_with(' ') => {}
                ' ' | '\t' => relaxed.push(' '),
                _ => relaxed.push(letter),
            }
        }
        if relaxed.is_empty() {
            empty += 1;
            continue;
        }
        out.push_str(&"\r\n".repeat(empty));
        empty = 0;
        out.push_str(&relaxed);
        out.push_str("\r\n");
    }
    out
}

/// A long word on lines that mail programs take.
fn folded(word: &str) -> String {
    let letters: Vec<char> = word.chars().collect();
    let lines: Vec<String> = letters.chunks(LINE_CHARS).map(|line| line.iter().collect()).collect();
    lines.join("\r\n ")
}

#[cfg(test)]
mod tests {
    use super::*;

    // The example of RFC 6376, section 3.4.5.
    #[test]
    fn white_space_is_relaxed_as_in_the_standards_example() {
        let read = headers("A: X\r\nB : Y\t\r\n\tZ  \r\n");
        let expected = [("a", "X"), ("b", "Y Z")];
        assert_eq!(read, expected.map(|(name, value)| (name.to_owned(), value.to_owned())));
        assert_eq!(relaxed_body(" C \r\nD \t E\r\n\r\n\r\n"), " C\r\nD E\r\n");
    }

    // RFC 6376, section 3.4.4: an empty body is empty; one without an end of its last line gets one.
    #[test]
    fn a_body_ends_with_one_line_end() {
        assert_eq!(relaxed_body(""), "");
        assert_eq!(relaxed_body("\r\n\r\n"), "");
        assert_eq!(relaxed_body("a"), "a\r\n");
        assert_eq!(relaxed_body("a\r\n\r\nb\r\n"), "a\r\n\r\nb\r\n");
    }

    #[test]
    fn what_is_no_key_is_said() {
        let error = Dkim::new("example.org", "s1", b"nothing").expect_err("no key");
        assert!(error.to_string().contains("openssl genrsa"), "{error}");
        let error = Dkim::new("example.org; x", "s1", b"").expect_err("no name");
        assert_eq!(error, DkimError::Name("example.org; x".to_owned()));
    }
}
