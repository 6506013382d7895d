//! The door to the pages: a key is traded for a short-lived cookie, and the two are not taken for another.

use crate::server::Server;

const FORM: (&str, &str) = ("content-type", "application/x-www-form-urlencoded");

#[test]
fn without_a_cookie_pages_lead_to_the_door() {
    let server = Server::start();
    for key in ["", server.inspector.as_str()] {
        let answer = server.get("/", key);
        assert_eq!((answer.status, answer.header("location")), (303, Some("/sign-in")));
    }
}

#[test]
fn a_key_is_traded_for_a_cookie() {
    let server = Server::start();
    let body = format!("key={}", server.inspector);
    let answer = server.raw("POST", "/sign-in", &[FORM], "", body.as_bytes());
    let set = answer.header("set-cookie").expect("a cookie").to_owned();
    for part in ["HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=43200"] {
        assert!(set.contains(part), "{set}");
    }
    let (cookie, _) = set.split_once(';').expect("attributes");
    assert!(!cookie.contains(&server.inspector));
    let page = server.raw("GET", "/", &[("cookie", cookie)], "", b"");
    assert_eq!(page.status, 200, "{page:?}");
    // The API does not take cookies, so no foreign page can use them.
    let api = server.raw("GET", "/v1/engines", &[("cookie", cookie)], "", b"");
    assert_eq!(api.status, 401);
    let left = server.raw("POST", "/sign-out", &[("cookie", cookie)], "", b"");
    assert!(left.status < 400, "{left:?}");
    let after = server.raw("GET", "/", &[("cookie", cookie)], "", b"");
    assert_eq!(after.status, 303);
}

#[test]
fn a_wrong_key_opens_nothing() {
    let server = Server::start();
    let answer = server.raw("POST", "/sign-in", &[FORM], "", b"key=gudgeon_wrong");
    assert_eq!(answer.header("set-cookie"), None, "{answer:?}");
}
