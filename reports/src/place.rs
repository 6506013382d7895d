//! A database of one test, with owners whose one engine is due on a day, and a clock that the test sets.

use crate::contents::Composer;
use crate::deliver::{Delivery, DeliveryError, DeliverySummary};
use crate::fixtures::{AS_OF, five_years, h, on, uid};
use crate::hand_over::{Carrier, HandedOver};
use crate::plan::{WeekRun, WeekSummary, plan_week};
use crate::render::Renderer;
use crate::retry::Rules;
use crate::sender::Sender;
use gudgeon_databases::Database;
use gudgeon_life::fact::{
    Content, EngineRegistered, Entry, Erased, Fact, Host, Ownership, PartyRegistered, PartyRole,
    ProgrammeActivated,
};
use gudgeon_life::hours::Basis;
use gudgeon_life::ids::{EngineId, FactId, ItemId, PartyId};
use gudgeon_life::programme::EngineType;
use gudgeon_life::week::ReportWeek;
use gudgeon_life::zone::Zone;
use gudgeon_store::{
    Instant, Links, NotAccepted, OutboxQuery, Post, Programmes, ReportRow, ReportState, Store,
    Texts,
};
use std::cell::Cell;
use std::sync::Arc;

/// 2026-11-25 09:00 UTC, a Wednesday in week 48.
pub(crate) const NOW: Instant = Instant(1_795_597_200_000_000);
/// Where the pages behind links are.
pub(crate) const BASE_URL: &str = "https://gudgeon.example.org";
/// An hour, in microseconds.
pub(crate) const HOUR: i64 = 3_600_000_000;

/// One engine type, whose one item is due five years after the engine was made.
pub(crate) struct OneType;

impl Programmes for OneType {
    fn get(&self, _: &[u8; 32], _: &str) -> Option<Arc<EngineType>> {
        Some(Arc::new(five_years()))
    }
}

/// A database with a clock.
pub(crate) struct Place {
    pub(crate) database: Database,
    pub(crate) store: Store,
    pub(crate) clock: Cell<i64>,
    renderer: Renderer,
    pub(crate) links: Links,
}

impl Place {
    pub(crate) fn new() -> Self {
        let database = Database::fresh(|url| {
            Store::open(url, true).expect("a database").migrate().expect("tables");
        });
        let store = Store::open(database.url(), false).expect("a database");
        store.add_engine_type("invented-twin", "x = 1", [1; 32], NOW, &OneType).expect("a type");
        let renderer = Renderer::new().expect("templates");
        let links = Links::new(&[3; 32], BASE_URL).expect("long enough");
        let place = Self { database, store, clock: Cell::new(NOW.0), renderer, links };
        let engine_type = ItemId::new("invented-twin").expect("a slug");
        let activated = ProgrammeActivated { engine_type, digest: [1; 32] };
        place.post(250, "2019-01-01", Content::ProgrammeActivated(activated), &[]);
        place
    }

    /// A place with these owners, each of an engine that is overdue in 2026.
    pub(crate) fn with_owners(count: u8) -> Self {
        let place = Self::new();
        for number in 1..=count {
            place.owner(number, Some(&format!("o{number}@example.org")), "2020-01-01");
        }
        place
    }

    pub(crate) fn post(&self, id: u8, day: &str, content: Content, texts: &[(&str, &str)]) {
        let private = texts.iter().map(|(at, text)| ((*at).to_owned(), (*text).to_owned()));
        let entry = Entry { on: on(day), order_in_day: 0, content };
        let post = Post {
            fact: Fact { id: FactId(uid(id)), entry },
            texts: Texts { private: private.collect(), ..Texts::default() },
            by: None,
            recorded_at: None,
            received_at: NOW,
        };
        if matches!(post.fact.entry.content, Content::Erased(_)) {
            self.store.erase(&post, &OneType).expect("erased");
        } else {
            self.store.append(&post, &OneType).expect("appended");
        }
    }

    /// An owner with one engine made on this day, so due five years later.
    pub(crate) fn owner(&self, id: u8, email: Option<&str>, made: &str) {
        let party = PartyId(uid(id));
        let name = format!("Invented Owner {id}");
        let mut texts = vec![("/name", name.as_str())];
        texts.extend(email.map(|email| ("/email", email)));
        let registered = PartyRegistered { party, role: PartyRole::Owner };
        self.post(id, "2026-01-01", Content::PartyRegistered(registered), &texts);
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
        self.post(100 + id, "2026-01-01", Content::EngineRegistered(registered), &[]);
        let ownership = Ownership { of: Host::Engine(engine), owner: party };
        self.post(200 + id, "2026-01-01", Content::Ownership(ownership), &[]);
    }

    pub(crate) fn erase(&self, id: u8) {
        let party = PartyId(uid(id));
        let erased = Erased { party, notes: false, facts: [].into(), photos: [].into() };
        self.post(90, AS_OF, Content::Erased(erased), &[]);
    }

    pub(crate) fn now(&self) -> Instant {
        Instant(self.clock.get())
    }

    pub(crate) fn wait(&self, micros: i64) {
        self.clock.set(self.clock.get() + micros);
    }

    pub(crate) fn composer(&self) -> Composer<'_> {
        let Self { store, renderer, links, .. } = self;
        Composer { store, programmes: &OneType, renderer, links: Some(links) }
    }

    /// Plans a week by the hours asked for, in UTC.
    pub(crate) fn plan(&self, week: &str) -> WeekSummary {
        self.plan_as(week, false)
    }

    pub(crate) fn plan_as(&self, week: &str, at_once: bool) -> WeekSummary {
        let run = WeekRun {
            store: &self.store,
            week: ReportWeek::parse(week).expect("a week"),
            as_of: None,
            zone: Zone::UTC,
            now: self.now(),
            at_once,
        };
        plan_week(&run).expect("planned")
    }

    pub(crate) fn try_deliver(
        &self,
        carrier: &dyn Carrier,
    ) -> Result<DeliverySummary, DeliveryError> {
        deliver(self.composer(), Rules::DEFAULT, carrier, &|| self.now())
    }

    pub(crate) fn deliver(&self, carrier: &dyn Carrier) -> DeliverySummary {
        self.try_deliver(carrier).expect("delivered")
    }

    /// The reports in a state, of all weeks, in order of planning.
    pub(crate) fn in_state(&self, state: ReportState) -> Vec<NotAccepted> {
        let query = OutboxQuery { week: None, state: Some(state), after_key: 0, limit: 1000 };
        self.store.not_accepted(&query).expect("readable")
    }
}

pub(crate) fn sender() -> Sender {
    Sender::new("reports@example.org", "shop@example.org").expect("addresses")
}

pub(crate) fn deliver(
    composer: Composer<'_>,
    rules: Rules,
    carrier: &dyn Carrier,
    clock: &dyn Fn() -> Instant,
) -> Result<DeliverySummary, DeliveryError> {
    let stops = &|| false;
    Delivery { composer, sender: &sender(), rules, by: "a test", clock, stops }.run(carrier)
}

/// A carrier of a test: what it does with each mail.
pub(crate) struct Each<F>(pub(crate) F);

impl<F: Fn(&ReportRow) -> HandedOver> Carrier for Each<F> {
    fn hand_over(&self, report: &ReportRow, _: &[u8]) -> HandedOver {
        (self.0)(report)
    }
}

/// Accepts a mail; the receipt says whose.
pub(crate) fn accepted(report: &ReportRow) -> HandedOver {
    HandedOver::Accepted(report.recipient.to_string())
}

/// Receipts of these owners' mails, as [`accepted`] writes them.
pub(crate) fn receipts(numbers: impl IntoIterator<Item = u8>) -> Vec<String> {
    numbers.into_iter().map(|number| PartyId(uid(number)).to_string()).collect()
}
