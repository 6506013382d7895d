//! Statuses from the stored days against statuses worked out afresh, and what must hold on a random fleet.
//!
//! `afresh` is written out plainly from the meaning of each status: legs, notice, tolerance, permission. It
//! shares nothing with the service but the legs themselves.

use crate::bench_shop::{Shop, d};
use crate::fleet::World;
use chrono::{Days, NaiveDate};
use gudgeon_life::due::due_list;
use gudgeon_life::fact::{
    Affected, ComponentRegistered, Concession, Condition, Content, Event, EventKind, Fact,
    Inspection, Preserved,
};
use gudgeon_life::history::{ConcessionRecord, EngineState, FindingRecord, History};
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ItemId, PartKind};
use gudgeon_life::line::{AskedBy, Count, DueLine, Leg, NoLater};
use gudgeon_life::programme::{Action, Applies, Class, EngineType, Granted, Item};
use gudgeon_life::status::Status;
use gudgeon_life::sure::prior::Evidence;

/// What a leg says on a day: nothing yet, soon, past due, past its latest; or that it cannot be told.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Says {
    Nothing,
    Soon,
    PastDue,
    PastLatest,
}

/// What happens past due, and the notice before it.
struct Terms {
    notice_hours: Hours,
    notice_days: u64,
    extended: bool,
    at_once: bool,
    until: Option<NaiveDate>,
}

fn terms(item: Option<&Item>) -> Terms {
    let limited =
        |item: &Item| matches!(item.class, Class::AirworthinessLimitation | Class::Directive);
    let extended = item.is_some_and(|it| it.extension_percent.is_some() && !limited(it));
    Terms {
        notice_hours: item.map_or(Hours::from_whole(10), |it| it.notice.hours),
        notice_days: item.map_or(30, |it| u64::from(it.notice.days)),
        extended,
        at_once: item
            .is_some_and(|it| it.extension_percent.is_none() && it.granted != Granted::Automatic),
        until: None,
    }
}

fn says_by_hours(
    at: (Hours, NaiveDate),
    due: Hours,
    latest: Hours,
    terms: &Terms,
    day: NaiveDate,
) -> Says {
    let (now, read_on) = at;
    let ended = terms.until.is_some_and(|until| day > until);
    if day < read_on {
        Says::Nothing
    } else if now > latest || (now > due && (terms.at_once || ended)) {
        Says::PastLatest
    } else if now > due {
        Says::PastDue
    } else if now + terms.notice_hours >= due {
        Says::Soon
    } else {
        Says::Nothing
    }
}

fn says_by_day(due: NaiveDate, latest: NaiveDate, terms: &Terms, day: NaiveDate) -> Says {
    let ended = terms.until.is_some_and(|until| day > until);
    if day > latest || (day > due && (terms.at_once || ended)) {
        Says::PastLatest
    } else if day > due {
        Says::PastDue
    } else if day + Days::new(terms.notice_days) >= due {
        Says::Soon
    } else {
        Says::Nothing
    }
}

/// The permission for a leg: recorded for the item and place after it was last done, before the leg was due.
fn permission<'a>(
    engine: &'a EngineState,
    history: &History,
    line: &DueLine,
    leg: &Leg,
) -> Option<&'a ConcessionRecord> {
    engine.concessions.iter().rev().find(|it| {
        let hours = match line.component {
            Some(id) => history.component_hours(id, it.moment),
            None => engine.clock.at(it.moment).map(|point| point.hours),
        };
        let before = match leg.count {
            Count::Hours { due, .. } => hours.is_some_and(|hours| hours <= due),
            Count::Calendar { due, .. } => it.moment.on <= due,
            Count::Missing(..) => false,
        };
        let anew = line.last.is_none_or(|last| last.on < it.moment.on);
        it.item == line.item && it.position == line.position && before && anew
    })
}

/// How a line stands on a day, from its legs and what asks for it.
fn afresh(line: &DueLine, world: &World, history: &History, day: NaiveDate) -> Status {
    let engine = history.engine(Shop::engine_id(1)).unwrap();
    let item = match line.asked_by {
        AskedBy::Programme => world.engine_type.item(&line.item),
        _ => None,
    };
    let mut unknown = false;
    let mut worst = asked(line, history, day);
    for leg in &line.legs {
        let mut terms = terms(item);
        let permitted = item.filter(|it| it.granted == Granted::BeforeDue && terms.at_once);
        if permitted.is_some()
            && let Some(given) = permission(engine, history, line, leg)
        {
            terms.at_once = false;
            terms.until = given.until;
        }
        let now = line.hours_now.zip(line.hours_on);
        let says = match (leg.count, leg.no_later) {
            (Count::Hours { due, latest, .. }, _) => {
                now.map(|at| says_by_hours(at, due, latest, &terms, day))
            }
            (Count::Calendar { due, latest, .. }, _) => Some(says_by_day(due, latest, &terms, day)),
            (Count::Missing(..), bound) => {
                unknown = true;
                let proves = match bound {
                    Some(NoLater::Hours { due, latest }) => {
                        now.map(|at| says_by_hours(at, due, latest, &terms, day))
                    }
                    Some(NoLater::Day { due, latest }) => {
                        Some(says_by_day(due, latest, &terms, day))
                    }
                    None => None,
                };
                Some(proves.filter(|says| *says == Says::PastLatest).unwrap_or(Says::Nothing))
            }
        };
        unknown |= says.is_none();
        worst = worst.max(says.unwrap_or(Says::Nothing));
    }
    let extended = terms(item).extended;
    match (worst, extended, unknown) {
        (Says::PastLatest, false, _) => Status::Overdue,
        (_, _, true) => Status::Unknown,
        (Says::PastLatest, true, _) => Status::OnCondition,
        (Says::PastDue, false, _) => Status::InTolerance,
        (Says::PastDue, true, _) => Status::InExtension,
        (Says::Soon, ..) => Status::ComingDue,
        (Says::Nothing, ..) => Status::NotDue,
    }
}

/// What a line says by what asks for it, beside its legs.
fn asked(line: &DueLine, history: &History, day: NaiveDate) -> Says {
    // What came with a part was found wherever it was then, and at the place where it was then.
    let came_along = line.component.is_some();
    let engines: Vec<&EngineState> = if came_along {
        history.engines.values().collect()
    } else {
        history.engine(Shop::engine_id(1)).into_iter().collect()
    };
    match line.asked_by {
        AskedBy::Event(happened) if happened.on <= day => Says::PastLatest,
        AskedBy::Finding(fact) => {
            let same = |it: &&FindingRecord| {
                let here = came_along || it.position == line.position;
                it.moment.fact == fact && it.item == line.item && here
            };
            let found = engines.iter().flat_map(|engine| &engine.findings);
            let worst = found.filter(same).filter(|it| it.moment.on <= day);
            let says = worst.map(|it| match it.condition {
                Condition::Monitor => Says::Soon,
                Condition::Repair | Condition::Renew | Condition::Scrap => Says::PastLatest,
                Condition::Serviceable | Condition::NotInspected => Says::Nothing,
            });
            says.max().unwrap_or(Says::Nothing)
        }
        AskedBy::Programme
        | AskedBy::Preservation(_)
        | AskedBy::Event(_)
        | AskedBy::OnCondition => Says::Nothing,
    }
}

fn lines(facts: &[Fact], engine_type: &EngineType) -> Vec<DueLine> {
    due_list(&History::fold(facts), Shop::engine_id(1), engine_type, &Evidence::default())
}

#[test]
fn statuses_from_stored_days_equal_statuses_worked_out_afresh() {
    let mut seen = std::collections::BTreeMap::new();
    for seed in 10_000..12_000 {
        let world = World::new(seed);
        let history = world.history();
        for line in due_list(&history, Shop::engine_id(1), &world.engine_type, &Evidence::default())
        {
            let (stored, plain) =
                (line.days.on(world.as_of), afresh(&line, &world, &history, world.as_of));
            assert_eq!(stored, plain, "engine {seed} on {}\n{line:#?}", world.as_of);
            *seen.entry(stored).or_insert(0) += 1;
        }
    }
    assert_eq!(seen.len(), Status::ALL.len(), "every status comes up: {seen:?}");
}

#[test]
fn the_days_of_a_line_are_ordered() {
    for seed in 20_000..20_500 {
        let world = World::new(seed);
        for line in lines(&world.shop.facts(), &world.engine_type) {
            let all = line.legs.iter().map(|leg| leg.days).chain([line.days]);
            for days in all {
                let turning: Vec<_> = [days.coming_from, days.due_from, days.late_from]
                    .into_iter()
                    .flatten()
                    .collect();
                assert!(turning.is_sorted(), "engine {seed}: {line:#?}");
            }
        }
    }
}

/// A bound is only given for what cannot be told, and never shows as a due.
#[test]
fn bounds_never_make_a_known_line_different() {
    for seed in 20_000..20_500 {
        let world = World::new(seed);
        for line in lines(&world.shop.facts(), &world.engine_type) {
            for leg in line.legs.iter().filter(|leg| leg.no_later.is_some()) {
                assert!(matches!(leg.count, Count::Missing(..)), "engine {seed}: {line:#?}");
                let status = leg.days.on(world.as_of);
                assert!(matches!(status, Status::Unknown | Status::Overdue), "engine {seed}");
            }
            let known = line.legs.iter().all(|leg| matches!(leg.count, Count::Missing(..)));
            assert!(!known || (line.due_hours(), line.due_on()) == (None, None), "engine {seed}");
        }
    }
}

/// What an item applies to only ever drops its line or leaves it open; it moves nothing.
#[test]
fn an_applies_to_never_makes_a_line_later() {
    let open = gudgeon_life::line::Missing::Applicability;
    for seed in 20_000..20_500 {
        let world = World::new(seed);
        let mut all = world.engine_type.clone();
        all.items.iter_mut().for_each(|item| item.applies = Applies::default());
        let without = lines(&world.shop.facts(), &all);
        for line in lines(&world.shop.facts(), &world.engine_type) {
            let left_open = |leg: &Leg| matches!(leg.count, Count::Missing(_, why) if why == open);
            if line.legs.iter().any(left_open) {
                assert!(line.status(world.as_of) == Status::Unknown, "engine {seed}: {line:#?}");
            } else {
                assert!(without.contains(&line), "engine {seed}: {line:#?}");
            }
        }
    }
}

/// Order and doubles do not matter, for facts of every kind.
#[test]
fn any_order_of_any_facts_gives_the_same_lines() {
    for seed in 20_000..20_500 {
        let world = World::new(seed);
        let facts = world.shop.facts();
        let mut mixed = facts.clone();
        mixed.reverse();
        mixed.rotate_left(usize::try_from(seed).unwrap() % facts.len());
        mixed.extend(facts.iter().take(3).cloned());
        assert_eq!(History::fold(&facts), History::fold(&mixed), "engine {seed}");
    }
}

/// Facts that have nothing to do with the items of the programme, nor with the hours.
fn unrelated(shop: &mut Shop, on: &str) {
    let engine = Shop::engine_id(1);
    let other = ItemId::new("another-item").unwrap();
    let job: &mut Inspection = shop.inspection(1, on);
    job.work = vec![Shop::done("another-item", Action::Overhauled)];
    let concession = Concession { engine, item: other, position: None, until: None };
    shop.record(on, Content::Concession(concession));
    shop.engine(9, on, Some("50.0"), None);
    shop.install(9, 9, on, "100.0");
    let of = Affected::Engine(Shop::engine_id(9));
    let kind = EventKind::PropellerStrike;
    shop.record(on, Content::Event(Event { of, kind, meter: None }));
    shop.record(
        on,
        Content::ComponentRegistered(ComponentRegistered {
            component: Shop::component_id(900),
            kind: PartKind::new("gearbox").unwrap(),
            serial: None,
            lot: None,
            maker_part: None,
            code: None,
            hours: None,
            cured_on: None,
            first_fitted_on: None,
            overhauled: None,
        }),
    );
    shop.fit(900, 9, on);
}

#[test]
fn adding_facts_never_makes_an_unrelated_line_change() {
    for seed in 20_000..20_500 {
        let mut world = World::new(seed);
        let before = lines(&world.shop.facts(), &world.engine_type);
        let on = d("2014-06-01") + Days::new(seed % 2000);
        unrelated(&mut world.shop, &on.to_string());
        assert_eq!(before, lines(&world.shop.facts(), &world.engine_type), "engine {seed}");
    }
}

/// Storage stops no calendar: preserved and brought back, every line that does not ask for it is the same.
#[test]
fn storage_never_pauses_a_calendar() {
    for seed in 20_000..20_500 {
        let mut world = World::new(seed);
        for item in &mut world.engine_type.items {
            item.after.retain(|kind| *kind != EventKind::ReturnToUse);
        }
        let programme = |facts: &[Fact]| -> Vec<DueLine> {
            let mut all = lines(facts, &world.engine_type);
            all.retain(|line| !matches!(line.asked_by, AskedBy::Preservation(_)));
            all
        };
        let mut facts = world.shop.facts();
        let before = programme(&facts);
        let mut stored = Shop::new();
        let engine = Shop::engine_id(1);
        let until = Some(d("2017-01-01"));
        stored.record("2016-01-01", Content::Preserved(Preserved { engine, until }));
        let (of, kind) = (Affected::Engine(engine), EventKind::ReturnToUse);
        stored.record("2016-12-01", Content::Event(Event { of, kind, meter: None }));
        // Their own ids, so that they are new facts.
        facts.extend(stored.facts().into_iter().zip(900..).map(|(fact, number)| {
            let id = gudgeon_life::ids::FactId(Shop::component_id(number).0);
            Fact { id, ..fact }
        }));
        assert_eq!(before, programme(&facts), "engine {seed}");
    }
}
