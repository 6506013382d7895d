//! The words of mails as they are kept: compressed, because they are the largest rows of a database and almost
//! never read again. Those of the demonstration's 18 mails take 122,858 bytes instead of 700,103.
//!
//! The format is that of zlib (RFC 1950) and carries a checksum. It is this database's own affair: a backup holds
//! the words themselves, so that it is the same however and by which version they were compressed.

use crate::error::StoreError;
use diesel::backend::Backend;
use diesel::deserialize::{self, FromSql, FromSqlRow};
use diesel::expression::AsExpression;
use diesel::serialize::{self, Output, ToSql};
use diesel::sql_types::Binary;
use miniz_oxide::deflate::compress_to_vec_zlib;
use miniz_oxide::inflate::decompress_to_vec_zlib_with_limit;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// How hard is tried, from 1 to 10: harder saves one byte in three hundred, and easier takes a tenth more.
const LEVEL: u8 = 6;
/// The longest text, in bytes: a few damaged or hostile bytes could unpack to a thousand times as many. A mail is
/// a hundred times shorter.
const TEXT_BYTES_MAX: usize = 16 * 1024 * 1024;

/// A text, compressed. No text is no bytes.
#[derive(Clone, Debug, Default, PartialEq, Eq, AsExpression, FromSqlRow)]
#[diesel(sql_type = Binary)]
pub(crate) struct Packed(Vec<u8>);

impl Packed {
    /// Compresses a text.
    pub(crate) fn of(text: &str) -> Self {
        if text.is_empty() {
            return Self::default();
        }
        Self(compress_to_vec_zlib(text.as_bytes(), LEVEL))
    }

    /// The bytes that are kept.
    #[cfg(test)]
    pub(crate) fn bytes(&self) -> &[u8] {
        &self.0
    }

    /// The text.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`] when these are not the bytes of a text, or of one that is too long.
    pub(crate) fn text(&self) -> Result<String, StoreError> {
        if self.0.is_empty() {
            return Ok(String::new());
        }
        let damaged = || StoreError::Corrupt("a mail whose words are damaged".to_owned());
        let bytes = decompress_to_vec_zlib_with_limit(&self.0, TEXT_BYTES_MAX);
        bytes.ok().and_then(|bytes| String::from_utf8(bytes).ok()).ok_or_else(damaged)
    }
}

impl<DB: Backend> FromSql<Binary, DB> for Packed
where
    Vec<u8>: FromSql<Binary, DB>,
{
    fn from_sql(bytes: DB::RawValue<'_>) -> deserialize::Result<Self> {
        <Vec<u8> as FromSql<Binary, DB>>::from_sql(bytes).map(Self)
    }
}

impl<DB: Backend> ToSql<Binary, DB> for Packed
where
    [u8]: ToSql<Binary, DB>,
{
    fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, DB>) -> serialize::Result {
        self.0.as_slice().to_sql(out)
    }
}

impl Serialize for Packed {
    /// The text. A damaged one is left out, as if it had been taken: the rest of a backup may be all that is left.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&self.text().unwrap_or_default())
    }
}

impl<'de> Deserialize<'de> for Packed {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer).map(|text| Self::of(&text))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // By zlib of Python: zlib.compress("Ermintrude is told what is due.\n" 40 times, level 9).
    const BY_ANOTHER: &str = "78da732dcacdcc2b292a4d4955c82c5628c9cf495128cf482c0171524a53f5b85c47e547e547e547e587a93c00d1c9c530";

    fn bytes(hex: &str) -> Vec<u8> {
        let digits =
            hex.as_bytes().chunks_exact(2).map(|pair| str::from_utf8(pair).expect("ASCII"));
        digits.map(|pair| u8::from_str_radix(pair, 16).expect("a digit")).collect()
    }

    #[test]
    fn a_text_comes_back_as_it_was_and_smaller() {
        let line = "Ermintrude is told what is due.\n";
        for text in [String::new(), "x".to_owned(), "ž\u{202e}\0\r\n".to_owned(), line.repeat(40)]
        {
            assert_eq!(Packed::of(&text).text().expect("whole"), text);
        }
        assert!(Packed::of(&line.repeat(40)).0.len() < 100);
        assert_eq!(Packed(bytes(BY_ANOTHER)).text().expect("whole"), line.repeat(40));
    }

    #[test]
    fn no_damaged_byte_goes_unseen() {
        let whole = Packed::of("Ermintrude is told what is due.");
        for at in 0..whole.0.len() {
            let mut damaged = whole.clone();
            damaged.0[at] ^= 0x10;
            let text = damaged.text();
            assert!(matches!(text, Err(StoreError::Corrupt(_))), "byte {at}: {text:?}");
        }
        let cut = Packed(whole.0[..whole.0.len() - 1].to_vec());
        assert!(cut.text().is_err());
        // No text, though whole: 0xff stands in none.
        assert!(Packed(compress_to_vec_zlib(&[0xff], LEVEL)).text().is_err());
    }

    #[test]
    fn a_few_bytes_do_not_unpack_to_a_great_many() {
        let most = "x".repeat(TEXT_BYTES_MAX);
        assert_eq!(Packed::of(&most).text().expect("just short enough").len(), TEXT_BYTES_MAX);
        let bomb = Packed::of(&(most + "x"));
        assert!(bomb.0.len() < 20_000 && bomb.text().is_err());
    }
}
