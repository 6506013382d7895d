//! Fixed-size binary columns: 16-byte identifiers and 32-byte digests, checked as they are read.

use diesel::backend::Backend;
use diesel::deserialize::{self, FromSql, FromSqlRow};
use diesel::expression::AsExpression;
use diesel::serialize::{self, Output, ToSql};
use diesel::sql_types::Binary;
use gudgeon_life::ids::Uid;
use gudgeon_life::version::hex;
use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

macro_rules! fixed_bytes {
    ($($(#[$doc:meta])* $name:ident: $size:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, AsExpression, FromSqlRow)]
        #[diesel(sql_type = Binary)]
        pub(crate) struct $name(pub(crate) [u8; $size]);

        impl<DB: Backend> FromSql<Binary, DB> for $name
        where
            Vec<u8>: FromSql<Binary, DB>,
        {
            fn from_sql(bytes: DB::RawValue<'_>) -> deserialize::Result<Self> {
                let bytes = <Vec<u8> as FromSql<Binary, DB>>::from_sql(bytes)?;
                <[u8; $size]>::try_from(bytes.as_slice())
                    .map(Self)
                    .map_err(|_| format!("{} bytes instead of {}", bytes.len(), $size).into())
            }
        }

        impl<DB: Backend> ToSql<Binary, DB> for $name
        where
            [u8]: ToSql<Binary, DB>,
        {
            fn to_sql<'b>(&'b self, out: &mut Output<'b, '_, DB>) -> serialize::Result {
                self.0.as_slice().to_sql(out)
            }
        }
    )*};
}

fixed_bytes! {
    /// An identifier made by a client.
    Id: 16;
    /// A SHA-256, or a salt of the same size.
    Digest: 32;
}

impl From<Uid> for Id {
    fn from(uid: Uid) -> Self {
        Self(uid.bytes())
    }
}

impl From<Id> for Uid {
    fn from(id: Id) -> Self {
        Self::from_bytes(id.0)
    }
}

impl Serialize for Id {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(&Uid::from(*self))
    }
}

impl<'de> Deserialize<'de> for Id {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        Uid::parse(&text).map(Self::from).ok_or_else(|| D::Error::custom("not an identifier"))
    }
}

impl Serialize for Digest {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&hex(self.0))
    }
}

impl<'de> Deserialize<'de> for Digest {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let digit = |c: char| c.to_digit(16).and_then(|digit| u8::try_from(digit).ok());
        let digits: Option<Vec<u8>> = text.chars().map(digit).collect();
        let digits = digits.filter(|digits| digits.len() == 64);
        let digits = digits.ok_or_else(|| D::Error::custom("not 64 hexadecimal digits"))?;
        let mut bytes = [0; 32];
        for (byte, pair) in bytes.iter_mut().zip(digits.chunks_exact(2)) {
            *byte = pair.iter().fold(0, |byte, digit| byte * 16 + digit);
        }
        Ok(Self(bytes))
    }
}
