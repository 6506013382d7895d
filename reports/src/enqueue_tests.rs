//! A week from posts to files, through a real database: once each, however often it is run.

use super::*;
use crate::deliver::{Delivery, DeliverySummary};
use crate::fixtures::{AS_OF, five_years, h, on, uid};
use crate::render::Renderer;
use gudgeon_databases::Database;
use gudgeon_life::fact::{
    Content, EngineRegistered, Entry, Erased, Fact, Host, Ownership, PartyRegistered,
    ProgrammeActivated,
};
use gudgeon_life::hours::Basis;
use gudgeon_life::ids::{EngineId, FactId, ItemId};
use gudgeon_life::programme::EngineType;
use gudgeon_store::{Post, Programmes, Purpose, ReportState, Texts};
use std::path::Path;
use std::sync::Arc;

const NOW: Instant = Instant(1_795_597_200_000_000);

struct OneType;

impl Programmes for OneType {
    fn get(&self, _: &[u8; 32], _: &str) -> Option<Arc<EngineType>> {
        Some(Arc::new(five_years()))
    }
}

/// A database and a folder of one test.
struct Place(Database);

impl Place {
    fn new() -> Self {
        Self(Database::fresh(|url| {
            Store::open(url, true).expect("a database").migrate().expect("tables");
        }))
    }

    fn store(&self) -> Store {
        let store = Store::open(self.0.url(), false).expect("a database");
        store.add_engine_type("invented-twin", "x = 1", [1; 32], NOW, &OneType).expect("a type");
        let engine_type = ItemId::new("invented-twin").expect("a slug");
        let activated = ProgrammeActivated { engine_type, digest: [1; 32] };
        post(&store, 250, "2026-01-01", Content::ProgrammeActivated(activated), &[]);
        store
    }
}

#[test]
fn all_of_these_pass_on_postgres_too() {
    gudgeon_databases::repeat_on_postgres();
}

fn post(store: &Store, id: u8, day: &str, content: Content, texts: &[(&str, &str)]) {
    let private = texts.iter().map(|(at, text)| ((*at).to_owned(), (*text).to_owned())).collect();
    let entry = Entry { on: on(day), order_in_day: 0, content };
    let post = Post {
        fact: Fact { id: FactId(uid(id)), entry },
        texts: Texts { private, ..Texts::default() },
        by: None,
        recorded_at: None,
        received_at: NOW,
    };
    store.append(&post, &OneType).expect("appended");
}

/// An owner with one engine made on this day.
fn owner(store: &Store, id: u8, email: Option<&str>, made: &str) {
    let party = PartyId(uid(id));
    let name = format!("Invented Owner {id}");
    let mut texts = vec![("/name", name.as_str())];
    texts.extend(email.map(|email| ("/email", email)));
    let registered = PartyRegistered { party, role: PartyRole::Owner };
    post(store, id, "2026-01-01", Content::PartyRegistered(registered), &texts);
    let engine = EngineId(uid(100 + id));
    let registered = EngineRegistered {
        engine,
        engine_type: ItemId::new("invented-twin").expect("a slug"),
        serial: format!("0042-{id}"),
        basis: Basis::EngineRun,
        tsn: Some(h("10")),
        made_on: Some(on(made)),
        overhauled: None,
    };
    post(store, 100 + id, "2026-01-01", Content::EngineRegistered(registered), &[]);
    let ownership = Ownership { of: Host::Engine(engine), owner: party };
    post(store, 200 + id, "2026-01-01", Content::Ownership(ownership), &[]);
}

fn run(store: &Store) -> WeekSummary {
    let renderer = Renderer::new().expect("templates");
    let sender = sender();
    let run = WeekRun {
        composer: Composer { store, programmes: &OneType, renderer: &renderer },
        sender: &sender,
        links: Some(&links()),
        week: ReportWeek::parse("2026-W48").expect("a week"),
        as_of: on(AS_OF),
        composed_at: NOW,
    };
    run_week(&run).expect("a week")
}

fn deliver(store: &Store, folder: &Path) -> DeliverySummary {
    let delivery = Delivery { store, sender: &sender(), by: "a test", clock: &|| NOW };
    delivery.to_folder(folder).expect("delivered")
}

fn links() -> Links {
    Links::new(&[3; 32], "https://gudgeon.example.org").expect("long enough")
}

fn sender() -> Sender {
    Sender::new("reports@example.org", "shop@example.org").expect("addresses")
}

// Made 2020-01-01, five years: due 2025-01-01, which is 693 days before 2026-11-25. Made 2025: not due.
#[test]
fn everybody_with_something_to_read_gets_one_mail() {
    let place = Place::new();
    let store = place.store();
    owner(&store, 1, Some("one@example.org"), "2020-01-01");
    owner(&store, 2, None, "2020-01-01");
    owner(&store, 3, Some("not an address"), "2020-01-01");
    owner(&store, 4, Some("four@example.org"), "2025-01-01");
    let unreachable = vec![
        Unreachable { owner: PartyId(uid(2)), why: "no address on record" },
        Unreachable { owner: PartyId(uid(3)), why: "not a mail address" },
    ];
    let first = WeekSummary { owners: 4, queued: 1, already: 0, quiet: 1, erased: 0, unreachable };
    assert_eq!(run(&store), first);
    assert_eq!(run(&store), WeekSummary { queued: 0, already: 1, ..first });

    // Text and page lead to the pages of this owner, and of nobody else.
    let queued = store.reports_of(PartyId(uid(1)), 0, 1).expect("readable").remove(0);
    for content in [&queued.text, &queued.html] {
        for (path, purpose) in [
            ("reading", Purpose::Reading),
            ("mails", Purpose::Preferences),
            ("stop", Purpose::Stop),
        ] {
            let address = format!("https://gudgeon.example.org/{path}/");
            let (_, rest) = content.split_once(&address).expect(path);
            let sealed = rest.split(|c: char| !c.is_ascii_alphanumeric() && c != '-' && c != '_');
            let sealed = sealed.into_iter().next().expect("a link");
            let opened = links().open(purpose, sealed, on(AS_OF)).expect(path);
            assert_eq!(opened.party, PartyId(uid(1)));
        }
    }

    let folder = place.0.folder().join("mails");
    let delivered = deliver(&store, &folder);
    assert_eq!(delivered.failed, []);
    let expected = folder.join("2026-W48-invented-owner-1-00000001.eml");
    assert_eq!(delivered.accepted, [expected.display().to_string()]);
    let mail = std::fs::read_to_string(&expected).expect("a mail");
    assert!(mail.contains("Subject: 1 overdue: engine 0042-1 (2026-W48)\r\n"), "{mail}");
    assert!(mail.contains("To: \"Invented Owner 1\" <one@example.org>\r\n"), "{mail}");
    assert!(mail.contains("693 days past due."), "{mail}");
    assert_eq!(std::fs::read_dir(&folder).expect("a folder").count(), 1);

    let again = deliver(&store, &folder);
    assert_eq!(again, DeliverySummary::default());
    assert_eq!(run(&store).queued, 0);
}

// An owner without an address is unreachable; one whose address was erased is told nothing, and that is right.
#[test]
fn an_erased_owner_is_counted_as_erased() {
    let place = Place::new();
    let store = place.store();
    owner(&store, 1, Some("one@example.org"), "2020-01-01");
    let erased =
        Erased { party: PartyId(uid(1)), notes: false, facts: [].into(), photos: [].into() };
    let entry = Entry { on: on(AS_OF), order_in_day: 0, content: Content::Erased(erased) };
    let fact = Fact { id: FactId(uid(90)), entry };
    let texts = Texts::default();
    let erasure = Post { fact, texts, by: None, recorded_at: None, received_at: NOW };
    store.erase(&erasure, &OneType).expect("erased");
    assert_eq!(run(&store), WeekSummary { owners: 1, erased: 1, ..WeekSummary::default() });
}

#[test]
fn more_owners_than_one_chunk_are_all_reached() {
    let place = Place::new();
    let store = place.store();
    let many = usize::try_from(CHUNK).expect("small") + 1;
    for at in 0..many {
        let mut bytes = [7; 16];
        bytes[14..].copy_from_slice(&u16::try_from(at).expect("small").to_be_bytes());
        let party = PartyId(gudgeon_life::ids::Uid::from_bytes(bytes));
        let content = Content::PartyRegistered(PartyRegistered { party, role: PartyRole::Owner });
        let entry = Entry { on: on(AS_OF), order_in_day: 0, content };
        let fact = Fact { id: FactId(party.0), entry };
        let texts = Texts::default();
        let post = Post { fact, texts, by: None, recorded_at: None, received_at: NOW };
        store.append(&post, &OneType).expect("appended");
    }
    assert_eq!(run(&store), WeekSummary { owners: many, quiet: many, ..WeekSummary::default() });
}

#[test]
fn a_week_is_anchored_before_its_mails_and_the_mails_say_so() {
    let place = Place::new();
    let store = place.store();
    owner(&store, 1, Some("one@example.org"), "2020-01-01");
    assert_eq!(store.last_anchor().expect("readable"), None);
    run(&store);
    let anchor = store.last_anchor().expect("readable").expect("the week was anchored");
    assert_eq!((anchor.seq, anchor.week.as_str()), (1, "2026-W48"));
    let mails = store.reports_in(ReportState::Queued, 0, 10).expect("readable");
    let text =
        mails.first().expect("one mail").text.split_whitespace().collect::<Vec<_>>().join(" ");
    let head = store.facts_of(EngineId(uid(101)).into()).expect("readable");
    let head = head.last().expect("it is registered");
    let words = format!(
        "Records kept: engine {} ({}), anchor 1 ({}).",
        head.seq,
        gudgeon_life::version::witness(head.hash),
        gudgeon_life::version::witness(anchor.hash)
    );
    assert!(text.contains(&words), "{words}: {text}");
    run(&store);
    assert_eq!(store.last_anchor().expect("readable"), Some(anchor), "nothing moved");
}
