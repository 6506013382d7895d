//! TLS to a `PostgreSQL` server: only a build with the feature for it speaks that.

use super::servers::unavailable;
use crate::server::Tls;
use crate::{Store, StoreError, url};
use diesel::prelude::*;
use diesel::sql_types::Bool;
use gudgeon_databases::Server;

#[derive(QueryableByName)]
struct Encrypted {
    #[diesel(sql_type = Bool)]
    ssl: bool,
}

fn open_for(url: &str, tls: Tls) -> Result<Store, StoreError> {
    Store::open_place(&url::parse_for(url, tls)?, false, Store::CONNECTIONS_MAX)
}

#[test]
fn a_server_that_requires_tls_gets_it_and_has_to_prove_itself() {
    let server = Server::start_with_tls();
    let _ = server.create("fleet", None);
    let url = server.address_url("fleet");
    let authority = server.folder().join("ca.crt");
    let verified = format!("{url}?sslmode=verify-full&sslrootcert={}", authority.display());

    let store = open_for(&verified, Tls::With).expect("it opens");
    store.migrate().expect("it is migrated");
    let encrypted = "SELECT ssl FROM pg_stat_ssl WHERE pid = pg_backend_pid()";
    let asked = store.read(|conn| Ok(diesel::sql_query(encrypted).get_result::<Encrypted>(conn)?));
    assert!(asked.expect("readable").ssl);

    // Another authority than the one that signed for it, a name that it did not sign for, and no TLS at all.
    let other = server.folder().join("server.crt");
    unavailable(&open_for(&verified.replace("ca.crt", "other.crt"), Tls::With));
    unavailable(&open_for(
        &format!("{url}?sslmode=verify-full&sslrootcert={}", other.display()),
        Tls::With,
    ));
    unavailable(&open_for(&verified.replace("127.0.0.1", "localhost"), Tls::With));
    unavailable(&open_for(&url, Tls::Without));
}
