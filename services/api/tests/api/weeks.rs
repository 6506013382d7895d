//! What became of the reports of a week, over HTTP.

use crate::server::{Server, uid};
use gudgeon_life::ids::PartyId;
use gudgeon_life::preference::ReportKind;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;
use gudgeon_store::{Instant, NewPlan};

// Two are planned and none has left; a page holds one.
#[test]
fn a_week_tells_how_many_reports_wait_and_names_them_page_by_page() {
    let server = Server::start();
    let week = ReportWeek::parse("2026-W48").expect("a week");
    let recipients =
        ["0193a000-0000-7000-8000-0000000000c1", "0193a000-0000-7000-8000-0000000000c2"];
    let plans = recipients.map(|id| NewPlan {
        recipient: PartyId(uid(id)),
        zone: Zone::parse("UTC").expect("a zone"),
        send_at: Instant(0),
    });
    let planned = server.store.plan_reports(ReportKind::Owner, week, None, &plans);
    assert_eq!(planned.expect("planned"), 2);
    let all = server.get("/v1/weeks/2026-W48", &server.inspector).json();
    assert_eq!(all["counts"]["planned"], 2, "{all}");
    assert_eq!(all["next"], serde_json::Value::Null, "{all}");
    let first = server.get("/v1/weeks/2026-W48?limit=1", &server.inspector).json();
    let next = first["next"].as_str().expect("another page").to_owned();
    let (_, path) = next.split_once("/v1/").expect("an address of ours");
    let second = server.get(&format!("/v1/{path}"), &server.inspector).json();
    let named = [&first, &second].map(|page| page["not_accepted"][0]["recipient"].clone());
    assert_eq!(named, recipients);
    assert_eq!(server.get("/v1/weeks/2026-W54", &server.inspector).status, 400);
}
