//! How parties want their reports: the default until they choose, nothing of an erased one, links revoked by
//! counting up.

use super::sample::{Bench, LATER, NOW, Programme, fact, owner, party, post};
use crate::{PreferenceRow, Store};
use chrono::{NaiveTime, Weekday};
use gudgeon_life::fact::{Content, Erased};
use gudgeon_life::preference::{
    Dates, DecimalMark, HoursForm, Mode, Preference, ReportKind, Style,
};
use gudgeon_life::zone::Zone;

/// A preference that differs from the default in everything.
pub(super) fn chosen() -> Preference {
    Preference {
        weekday: Weekday::Sun,
        at: NaiveTime::from_hms_opt(23, 59, 0).expect("a time"),
        zone: Some(Zone::parse("Pacific/Apia").expect("a zone")),
        mode: Mode::OverdueOnly,
        style: Style {
            dates: Dates::MonthDayYear,
            decimal_mark: DecimalMark::Comma,
            hours: HoursForm::HoursMinutes,
        },
    }
}

fn of(store: &Store, number: u8, kind: ReportKind) -> PreferenceRow {
    store.preference(party(number), kind).expect("readable")
}

#[test]
fn the_default_holds_until_somebody_chooses() {
    let bench = Bench::new();
    let store = &bench.store;
    bench.append(owner(201, 71));
    assert_eq!(of(store, 71, ReportKind::Owner), PreferenceRow::default());
    let set = |kind| store.set_preference(party(71), kind, &chosen(), LATER).expect("kept");
    assert!(set(ReportKind::Owner) && set(ReportKind::Owner));
    let kept = PreferenceRow { preference: chosen(), changed_at: Some(LATER), links_generation: 0 };
    assert_eq!(of(store, 71, ReportKind::Owner), kept);
    assert_eq!(of(store, 71, ReportKind::Shop), PreferenceRow::default(), "each kind for itself");
    let asked = [party(71), party(72)];
    let found = store.preferences(&asked, ReportKind::Owner).expect("readable");
    assert_eq!(found, [(party(71), kept)].into());
}

#[test]
fn revoked_links_change_nothing_else() {
    let bench = Bench::new();
    let store = &bench.store;
    bench.append(owner(201, 71));
    assert!(store.revoke_links(party(71), ReportKind::Owner).expect("revoked"));
    let once = PreferenceRow { links_generation: 1, ..PreferenceRow::default() };
    assert_eq!(of(store, 71, ReportKind::Owner), once, "a zone that nobody chose stays open");
    store.set_preference(party(71), ReportKind::Owner, &chosen(), NOW).expect("kept");
    assert!(store.revoke_links(party(71), ReportKind::Owner).expect("revoked"));
    let twice = PreferenceRow { preference: chosen(), changed_at: Some(NOW), links_generation: 2 };
    assert_eq!(of(store, 71, ReportKind::Owner), twice);
}

#[test]
fn an_erased_party_has_mails_off_and_no_link_that_holds() {
    let bench = Bench::new();
    let store = &bench.store;
    bench.append(owner(201, 71));
    store.set_preference(party(71), ReportKind::Owner, &chosen(), NOW).expect("kept");
    let it = Erased { party: party(71), notes: false, facts: [].into(), photos: [].into() };
    let erasure = fact(90, "2026-11-26", Content::Erased(it));
    store.erase(&post(erasure), &Programme).expect("erased");
    let left = of(store, 71, ReportKind::Owner);
    assert_eq!((left.preference.mode, left.preference.zone), (Mode::Off, None));
    assert_eq!(left.links_generation, 1);
    let set = store.set_preference(party(71), ReportKind::Owner, &chosen(), LATER);
    assert!(!set.expect("an answer"), "nobody chooses for them any more");
    assert!(!store.revoke_links(party(71), ReportKind::Owner).expect("an answer"));
    assert_eq!(of(store, 71, ReportKind::Owner), left);
}
