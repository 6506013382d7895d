//! Fixed-size binary columns: 16-byte identifiers and 32-byte digests, checked as they are read.

use diesel::backend::Backend;
use diesel::deserialize::{self, FromSql, FromSqlRow};
use diesel::expression::AsExpression;
use diesel::serialize::{self, Output, ToSql};
use diesel::sql_types::Binary;
use gudgeon_life::ids::Uid;

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
