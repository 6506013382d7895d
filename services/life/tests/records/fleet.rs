//! Random engines: a programme with items of every kind and records with facts of every kind, from a seed.

use crate::bench_shop::{Shop, d};
use crate::fleet_facts::records;
use chrono::{Days, NaiveDate};
use gudgeon_life::calendar::{CalendarMode, CalendarSpan};
use gudgeon_life::date_code::CodeDay;
use gudgeon_life::fact::{Attribute, EventKind};
use gudgeon_life::history::History;
use gudgeon_life::hours::Hours;
use gudgeon_life::ids::{ItemId, PartKind, PositionId};
use gudgeon_life::programme::{
    Action, Applies, Class, CountsFrom, EngineType, Granted, Interval, Item, Limit, NextPolicy,
    Notice, SerialRange, Subject, Tolerance,
};
use std::collections::BTreeSet;

pub(crate) const ITEMS: u64 = 12;
pub(crate) const KINDS: [&str; 3] = ["gearbox", "crankshaft", "fan-belt"];
pub(crate) const PLACES: [&str; 2] = ["mag", "pto"];
pub(crate) const USES: [&str; 3] = ["private", "school", "tow"];

/// Random numbers from a seed (splitmix64), the same on every machine.
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^ (mixed >> 31)
    }

    /// A number from 0 up to but not including `end`.
    pub(crate) fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    pub(crate) fn one_in(&mut self, times: u64) -> bool {
        self.below(times) == 0
    }

    pub(crate) fn count(&mut self, from: u32, to: u32) -> u32 {
        from + u32::try_from(self.below(u64::from(to - from) + 1)).unwrap()
    }

    pub(crate) fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        let at = usize::try_from(self.below(u64::try_from(from.len()).unwrap())).unwrap();
        from[at].clone()
    }

    pub(crate) fn maybe<T>(&mut self, times: u64, value: impl FnOnce(&mut Self) -> T) -> Option<T> {
        if self.one_in(times) { Some(value(self)) } else { None }
    }

    /// Hours up to a number of whole ones: mostly tenths, sometimes minutes or seconds.
    pub(crate) fn hours(&mut self, most: u64) -> Hours {
        let unit = self.pick(&[3600, 360, 360, 360, 60, 1]);
        let whole = self.below(most * 3600 / unit + 1) * unit;
        Hours::from_seconds(i64::try_from(whole).unwrap())
    }

    pub(crate) fn day(&mut self, from: &str, days: u64) -> NaiveDate {
        d(from) + Days::new(self.below(days))
    }
}

/// One random engine with its programme, records, and a day to look at it.
pub(crate) struct World {
    pub(crate) engine_type: EngineType,
    pub(crate) shop: Shop,
    pub(crate) as_of: NaiveDate,
}

impl World {
    pub(crate) fn new(seed: u64) -> Self {
        let mut dice = Dice::new(seed);
        let items: Vec<Item> = (0..ITEMS).map(|number| random_item(&mut dice, number)).collect();
        let (shop, last) = records(&mut dice, &items);
        // Mostly a day soon after the last record, sometimes one before it.
        let as_of = last + Days::new(dice.below(150)) - Days::new(dice.below(40));
        Self { engine_type: Shop::engine_type(items), shop, as_of }
    }

    pub(crate) fn history(&self) -> History {
        History::fold(&self.shop.facts())
    }
}

pub(crate) fn item_id(number: u64) -> ItemId {
    ItemId::new(&format!("item-{number}")).unwrap()
}

pub(crate) fn random_item(dice: &mut Dice, number: u64) -> Item {
    let kind = dice.maybe(3, |dice| PartKind::new(dice.pick(&KINDS)).unwrap());
    let places = dice.maybe(4, |_| PLACES.map(|place| PositionId::new(place).unwrap()).to_vec());
    let after: Vec<EventKind> = EventKind::ALL.into_iter().filter(|_| dice.one_in(8)).collect();
    let limits = dice.count(u32::from(after.is_empty()), 3);
    let limits = (0..limits).map(|at| limit(dice, at, limits > 1, kind.is_some())).collect();
    let advice = [Class::RequiredInspection, Class::Recommended];
    let classes = if dice.one_in(4) { &Class::ALL[..] } else { &advice[..] };
    let class = dice.pick(classes);
    let larger = dice.maybe(4, |dice| item_id(dice.below(ITEMS)));
    Item {
        id: item_id(number),
        title: format!("item {number}"),
        subject: kind.map_or(Subject::Engine, Subject::Component),
        positions: places.unwrap_or_default(),
        class,
        source: "drawn at random, on no authority".to_owned(),
        limits,
        next: dice.pick(&NextPolicy::ALL),
        tolerance: dice.maybe(2, tolerance),
        granted: dice.pick(&[
            Granted::Automatic,
            Granted::BeforeDue,
            Granted::BeforeDue,
            Granted::EnRoute,
        ]),
        extension_percent: dice.maybe(4, |dice| dice.count(5, 30)),
        on_condition: dice.maybe(2, |dice| random_interval(dice, false)),
        trend: None,
        satisfied_by: larger.into_iter().collect(),
        done_by: Action::ALL.into_iter().filter(|_| dice.one_in(4)).collect(),
        until: Action::ALL.into_iter().filter(|_| dice.one_in(40)).collect(),
        notice: Notice { hours: dice.hours(20), days: dice.count(0, 60) },
        after,
        applies: dice.maybe(4, applies).unwrap_or_default(),
    }
}

fn limit(dice: &mut Dice, at: u32, named: bool, component: bool) -> Limit {
    let from = [
        CountsFrom::New,
        CountsFrom::Overhaul,
        CountsFrom::FirstFitted,
        CountsFrom::Fitted,
        CountsFrom::Made,
        CountsFrom::Effective(dice.day("2016-01-01", 2500)),
        CountsFrom::Done,
    ];
    let counts_from = dice.pick(&from);
    let once = dice.maybe(5, |dice| {
        let mut steps: Vec<Hours> =
            (0..dice.count(1, 4)).map(|_| dice.hours(300) + Hours::from_seconds(360)).collect();
        steps.sort_unstable();
        steps.dedup();
        steps
    });
    let once = once.unwrap_or_default();
    let every = random_interval(dice, !once.is_empty());
    Limit {
        name: named.then(|| format!("part {}", at + 1)),
        counts_from,
        first: if once.is_empty() {
            dice.maybe(4, |dice| random_interval(dice, false))
        } else {
            None
        },
        once,
        every,
        calendar: dice.pick(&CalendarMode::ALL),
        shelf: component && counts_from == CountsFrom::Made && dice.one_in(2),
        code_day: dice.pick(&[CodeDay::First, CodeDay::Last]),
    }
}

pub(crate) fn random_interval(dice: &mut Dice, may_be_empty: bool) -> Interval {
    let hours = dice.maybe(2, |dice| dice.hours(300) + Hours::from_seconds(360));
    let months = dice.maybe(2, |dice| CalendarSpan::months(dice.count(1, 96)));
    let days = dice.maybe(4, |dice| CalendarSpan::days(dice.count(1, 700)));
    let drawn = Interval { hours, spans: months.into_iter().chain(days).collect() };
    if drawn.is_empty() && !may_be_empty {
        return Interval { hours: Some(Hours::from_whole(100)), spans: Vec::new() };
    }
    drawn
}

fn tolerance(dice: &mut Dice) -> Tolerance {
    let drawn = Tolerance {
        hours: dice.maybe(2, |dice| dice.hours(60)),
        months: dice.maybe(3, |dice| dice.count(1, 3)),
        days: None,
        percent: dice.maybe(3, |dice| dice.count(1, 25)),
        hours_max: None,
        days_max: None,
    };
    // A tolerance has months or days, not both; a cap needs a percentage.
    let days = if drawn.months.is_none() { dice.maybe(2, |dice| dice.count(1, 90)) } else { None };
    let capped = drawn.percent.is_some();
    Tolerance {
        days,
        hours_max: dice.maybe(2, |dice| dice.hours(10)).filter(|_| capped),
        days_max: dice.maybe(2, |dice| dice.count(1, 30)).filter(|_| capped),
        ..drawn
    }
}

fn applies(dice: &mut Dice) -> Applies {
    let range = |dice: &mut Dice| {
        let first = dice.below(900);
        let prefix = dice.pick(&["", "T", "K"]).to_owned();
        SerialRange { prefix, first, last: first + dice.below(900) }
    };
    let words = |dice: &mut Dice| -> BTreeSet<String> {
        let count = dice.count(1, 2);
        (0..count).map(|_| dice.pick(&USES).to_owned()).collect()
    };
    Applies {
        serials: dice.maybe(2, |dice| vec![range(dice), range(dice)]).unwrap_or_default(),
        part: dice.maybe(3, |dice| PartKind::new(dice.pick(&KINDS)).unwrap()),
        lots: dice.maybe(4, |_| vec!["A17".to_owned(), "B2".to_owned()]).unwrap_or_default(),
        described: dice.maybe(3, |dice| (Attribute::Use, words(dice))).into_iter().collect(),
    }
}
