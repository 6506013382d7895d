//! When the weekly mails come, how often, and how they write figures: chosen without signing in.

use super::{Holder, Shown, answered, answered_form, mails_of};
use crate::app::App;
use crate::call::Call;
use crate::form::Form;
use crate::problem::Problem;
use actix_web::HttpResponse;
use chrono::{NaiveTime, Weekday};
use gudgeon_life::preference::{Dates, DecimalMark, HoursForm, Mode, Preference, Style};
use gudgeon_life::zone::Zone;
use gudgeon_store::{Instant, Purpose};
use serde::Serialize;
use std::collections::BTreeMap;

#[derive(Serialize)]
pub(super) struct Settings {
    /// What the mails are called.
    mails: &'static str,
    /// Whether the choice was just saved.
    saved: bool,
    /// What is wrong, by the name of the field.
    faults: BTreeMap<&'static str, String>,
    choices: Vec<Choice>,
    /// The local hour, as it was typed.
    at: String,
    /// The zone, as it was typed.
    zone: String,
    /// Every zone that there is.
    zones: Vec<&'static str>,
}

/// A field with a few words to choose from.
#[derive(Serialize)]
struct Choice {
    name: &'static str,
    label: &'static str,
    options: Vec<Opt>,
}

#[derive(Serialize)]
struct Opt {
    word: &'static str,
    words: &'static str,
    chosen: bool,
}

/// The days of a week: as a form sends them, and as they are read.
const WEEKDAYS: [(Weekday, &str, &str); 7] = [
    (Weekday::Mon, "monday", "Monday"),
    (Weekday::Tue, "tuesday", "Tuesday"),
    (Weekday::Wed, "wednesday", "Wednesday"),
    (Weekday::Thu, "thursday", "Thursday"),
    (Weekday::Fri, "friday", "Friday"),
    (Weekday::Sat, "saturday", "Saturday"),
    (Weekday::Sun, "sunday", "Sunday"),
];

/// `GET /mails/{link}`
pub(super) async fn show(call: Call) -> Result<HttpResponse, Problem> {
    answered(call, Purpose::Preferences, |app, holder, _| {
        let kept = app.store.preference(holder.party.party, holder.link.kind)?.preference;
        page(app, &view(holder, &kept))
    })
    .await
}

/// `POST /mails/{link}`: saves the choice, or with `do=revoke` makes all links useless.
pub(super) async fn send(call: Call) -> Result<HttpResponse, Problem> {
    answered_form(call, Purpose::Preferences, |app, holder, form, now| match form.get("do") {
        "revoke" => {
            app.store.revoke_links(holder.party.party, holder.link.kind)?;
            Shown::page(app, "revoked.html", "Old links are useless now", &())
        }
        _ => save(app, holder, form, now),
    })
    .await
}

fn save(app: &App, holder: &Holder, form: &Form, now: Instant) -> Result<Shown, Problem> {
    let (party, kind) = (holder.party.party, holder.link.kind);
    let kept = app.store.preference(party, kind)?.preference;
    let (chosen, faults) = read(form, kept);
    let typed = |name: &str| form.get(name).to_owned();
    if !faults.is_empty() {
        let view =
            Settings { faults, at: typed("at"), zone: typed("zone"), ..view(holder, &chosen) };
        return Ok(page(app, &view)?.not_done());
    }
    app.store.set_preference(party, kind, &chosen, now)?;
    page(app, &Settings { saved: true, ..view(holder, &chosen) })
}

/// The choice that a form tells, and what is wrong with it. A field that is wrong stays as it was.
fn read(form: &Form, kept: Preference) -> (Preference, BTreeMap<&'static str, String>) {
    let mut faults = BTreeMap::new();
    let zone = match form.get("zone") {
        "" => None,
        name => Zone::parse(name).map_or_else(
            |error| {
                faults.insert("zone", error.to_string());
                kept.zone
            },
            Some,
        ),
    };
    let at = NaiveTime::parse_from_str(form.get("at"), "%H:%M").unwrap_or_else(|_| {
        faults.insert("at", "write the hour such as 07:00 or 18:30".to_owned());
        kept.at
    });
    let mut unnamed = |name: &'static str| {
        faults.insert(name, "choose one of these".to_owned());
    };
    let day = WEEKDAYS.into_iter().find(|(_, word, _)| *word == form.get("weekday"));
    let chosen = Preference {
        weekday: or_else(day.map(|(day, ..)| day), kept.weekday, || unnamed("weekday")),
        at,
        zone,
        mode: or_else(named(Mode::ALL, Mode::word, form.get("mode")), kept.mode, || {
            unnamed("mode");
        }),
        style: Style {
            dates: or_else(
                named(Dates::ALL, Dates::word, form.get("dates")),
                kept.style.dates,
                || unnamed("dates"),
            ),
            decimal_mark: or_else(
                named(DecimalMark::ALL, DecimalMark::word, form.get("decimal_mark")),
                kept.style.decimal_mark,
                || unnamed("decimal_mark"),
            ),
            hours: or_else(
                named(HoursForm::ALL, HoursForm::word, form.get("hours")),
                kept.style.hours,
                || unnamed("hours"),
            ),
        },
    };
    (chosen, faults)
}

fn or_else<T>(found: Option<T>, kept: T, otherwise: impl FnOnce()) -> T {
    found.unwrap_or_else(|| {
        otherwise();
        kept
    })
}

/// The one of these that has this word.
fn named<T: Copy, const N: usize>(
    all: [T; N],
    word: impl Fn(T) -> &'static str,
    found: &str,
) -> Option<T> {
    all.into_iter().find(|it| word(*it) == found)
}

fn view(holder: &Holder, chosen: &Preference) -> Settings {
    Settings {
        mails: mails_of(holder.link.kind),
        saved: false,
        faults: BTreeMap::new(),
        choices: choices(chosen),
        at: chosen.at.format("%H:%M").to_string(),
        zone: chosen.zone.map(|zone| zone.name().to_owned()).unwrap_or_default(),
        zones: Zone::all().map(Zone::name).collect(),
    }
}

fn choices(chosen: &Preference) -> Vec<Choice> {
    let weekdays =
        WEEKDAYS.map(|(day, word, words)| Opt { word, words, chosen: day == chosen.weekday });
    let style = chosen.style;
    vec![
        Choice { name: "weekday", label: "Day of the week", options: weekdays.into() },
        choice("mode", "How often", Mode::ALL, chosen.mode, Mode::word, mode_words),
        choice("dates", "Dates", Dates::ALL, style.dates, Dates::word, dates_words),
        choice(
            "decimal_mark",
            "Decimal mark",
            DecimalMark::ALL,
            style.decimal_mark,
            DecimalMark::word,
            mark_words,
        ),
        choice("hours", "Hours", HoursForm::ALL, style.hours, HoursForm::word, hours_words),
    ]
}

fn choice<T: Copy + PartialEq, const N: usize>(
    name: &'static str,
    label: &'static str,
    all: [T; N],
    chosen: T,
    word: impl Fn(T) -> &'static str,
    words: impl Fn(T) -> &'static str,
) -> Choice {
    let options =
        all.map(|it| Opt { word: word(it), words: words(it), chosen: it == chosen }).into();
    Choice { name, label, options }
}

const fn mode_words(mode: Mode) -> &'static str {
    match mode {
        Mode::EveryWeek => "Every week",
        Mode::WhenDueOrChanged => "When something is due or changed",
        Mode::OverdueOnly => "Only when something is overdue",
        Mode::Off => "Never",
    }
}

const fn dates_words(dates: Dates) -> &'static str {
    match dates {
        Dates::Iso => "2026-11-24",
        Dates::DayMonthYear => "24 Nov 2026",
        Dates::MonthDayYear => "Nov 24, 2026",
    }
}

const fn mark_words(mark: DecimalMark) -> &'static str {
    match mark {
        DecimalMark::Point => "Point: 1043.2",
        DecimalMark::Comma => "Comma: 1043,2",
    }
}

const fn hours_words(hours: HoursForm) -> &'static str {
    match hours {
        HoursForm::Decimal => "Hours and tenths: 1043.2",
        HoursForm::HoursMinutes => "Hours and minutes: 1043:12",
    }
}

fn page(app: &App, view: &Settings) -> Result<Shown, Problem> {
    Shown::page(app, "mails.html", "Your weekly mails", view)
}

#[cfg(test)]
pub(super) fn sample(text: &str) -> Settings {
    Settings {
        mails: mails_of(gudgeon_life::preference::ReportKind::Owner),
        saved: true,
        faults: BTreeMap::from([("zone", text.to_owned()), ("at", text.to_owned())]),
        choices: choices(&Preference::default()),
        at: text.to_owned(),
        zone: text.to_owned(),
        zones: vec!["Europe/Prague"],
    }
}
