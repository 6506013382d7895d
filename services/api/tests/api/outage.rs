//! A database that is away: 503 with the time to come back, and everything as before once it is back.

use crate::server::{Server, migrate};
use gudgeon_databases::{Database, Server as DatabaseServer};

const OWNER: &str = "/v1/owners/0193a000-0000-7000-8000-000000000001";
const BODY: &str = r#"{"name":"An Owner","email":"o@example.org"}"#;

#[test]
fn while_the_database_is_away_everybody_is_asked_to_come_back() {
    let databases = DatabaseServer::start();
    let server = Server::start_on(Database::of_server(&databases, migrate));
    databases.stop();
    for answer in [
        server.send("PUT", OWNER, &server.operator, BODY),
        server.get("/v1/engines", &server.inspector),
        server.get("/readyz", ""),
    ] {
        assert_eq!(answer.status, 503, "{answer:?}");
        // RFC 9110 section 10.2.3: a number of seconds.
        let seconds = answer.header("retry-after").and_then(|it| it.parse::<u32>().ok());
        assert!(seconds.is_some_and(|it| (1..60).contains(&it)), "{answer:?}");
        assert!(answer.errors().is_empty() && !answer.text.contains("socket"), "{answer:?}");
    }
    assert_eq!(server.get("/livez", "").status, 200);
    databases.start_again();
    assert_eq!(server.get("/readyz", "").status, 200);
    assert_eq!(server.send("PUT", OWNER, &server.operator, BODY).status, 201);
}
