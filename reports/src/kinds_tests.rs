//! All three kinds of mails: the same facts in text and HTML, the same shape whatever is in the data, size kept. With
//! `GUDGEON_MAILS` naming a folder, the mails are written there for the programs that check them as mails.

use super::tests::{folded, shape, visible};
use super::*;
use crate::fixtures::{AS_OF, on, sample_report};
use crate::fixtures_told::{fleet, told_club, told_engine, workshop};
use crate::message::message;
use crate::sender::Sender;
use crate::snapshot::SilentShop;
use gudgeon_life::preference::{Dates, DecimalMark, HoursForm};
use gudgeon_store::ReportRow;

/// Fields of a view that are no facts of the mail itself: words for style sheets, what only the subject or only a
/// table says, and addresses, which are links in HTML.
const NOT_TOLD: [&str; 5] = ["key", "headline", "first", "columns", "links"];

fn edition() -> Edition {
    Edition {
        week: ReportWeek::parse("2026-W48").expect("a week"),
        as_of: on(AS_OF),
        style: Style::default(),
        links: None,
    }
}

fn links() -> Links {
    let page = |of: &str| format!("https://example.org/{of}/AbCdEfGhIjKlMnOpQrStUvWxYz0123456789");
    Links {
        reading: Some(page("reading")),
        preferences: page("mails"),
        stop: page("stop"),
        calendar: Some(page("calendar")),
    }
}

/// The three snapshots, each with every name and free text of it through `name`.
struct Snapshots {
    owner: OwnerSnapshot,
    shop: ShopSnapshot,
    fleet: InspectorSnapshot,
}

impl Snapshots {
    fn plain() -> Self {
        Self { owner: told_club(), shop: workshop(), fleet: fleet() }
    }

    fn mails(&self, edition: &Edition) -> [(ReportKind, Rendered); 3] {
        let renderer = Renderer::new().expect("templates");
        let mail = |rendered: Result<Option<Rendered>, RenderError>| {
            rendered.expect("rendered").expect("something to say")
        };
        [
            (ReportKind::Owner, mail(renderer.owner(&self.owner, edition))),
            (ReportKind::Shop, mail(renderer.shop(&self.shop, edition))),
            (ReportKind::Inspector, mail(renderer.inspector(&self.fleet, edition))),
        ]
    }

    fn views(&self) -> [serde_json::Value; 3] {
        let Edition { week, as_of, .. } = edition();
        let owner = compose(&self.owner, week, as_of, 40);
        let shop = compose_shop(&self.shop, week, as_of, 40);
        let fleet = compose_inspector(&self.fleet, week, as_of, 40);
        [
            serde_json::to_value(owner).expect("a view"),
            serde_json::to_value(shop).expect("a view"),
            serde_json::to_value(fleet).expect("a view"),
        ]
    }

    /// The same with a hostile text for every name and every text that people write.
    fn hostile(text: &str) -> Self {
        let mut it = Self::plain();
        let own = || text.to_owned();
        it.owner.name = own();
        it.shop.name = own();
        it.fleet.name = own();
        let engines = it.owner.engines.iter_mut().chain(&mut it.shop.engines);
        for engine in engines.chain(&mut it.fleet.worst) {
            engine.row.mark = Some(own());
            engine.row.serial = Some(own());
            engine.row.conflicts.iter_mut().for_each(|it| *it = own());
            engine.told.parts.values_mut().for_each(|it| *it = own());
            engine.told.shops.values_mut().for_each(|it| *it = own());
            engine.told.last.iter_mut().for_each(|it| it.shop = Some(own()));
            let before = engine.told.before.iter_mut().flat_map(|it| &mut it.lines);
            for line in engine.lines.iter_mut().chain(before) {
                line.title = own();
                line.source = own();
            }
        }
        for post in &mut it.shop.posts {
            post.work_order = Some(own());
            post.engine = own();
            post.faults.iter_mut().for_each(|it| *it = own());
        }
        for row in &mut it.fleet.unread {
            row.mark = Some(own());
            row.serial = Some(own());
        }
        it.fleet.silent.iter_mut().for_each(|it| it.name = own());
        it.fleet.muted.iter_mut().for_each(|it| it.name = own());
        for mail in &mut it.fleet.mails {
            mail.name = own();
            mail.why = own();
        }
        it
    }

    /// The same with so many engines, posts and workshops.
    fn many(count: usize) -> Self {
        let engines: Vec<_> = (0..count).map(|at| told_engine(&format!("XX-{at:04}"))).collect();
        let mut it = Self::plain();
        it.owner.engines.clone_from(&engines);
        it.shop.posts = it.shop.posts.iter().cycle().take(count).cloned().collect();
        it.shop.renewals = it.shop.renewals.iter().cycle().take(count).cloned().collect();
        it.shop.engines.clone_from(&engines);
        it.fleet.unread = it.fleet.unread.iter().cycle().take(count).cloned().collect();
        it.fleet.unread_count = i64::try_from(count).expect("few");
        it.fleet.worst = engines;
        it.fleet.silent = (0..count)
            .map(|at| SilentShop { name: format!("Quiet Bench {at}"), last_on: None })
            .collect();
        it.fleet.mails = it.fleet.mails.iter().cycle().take(count).cloned().collect();
        it.fleet.muted = it.fleet.muted.iter().cycle().take(count).cloned().collect();
        it
    }
}

/// All texts of a view that a reader has to be told.
fn facts(view: &serde_json::Value) -> Vec<&str> {
    match view {
        serde_json::Value::String(words) => vec![words],
        serde_json::Value::Array(list) => list.iter().flat_map(facts).collect(),
        serde_json::Value::Object(fields) => fields
            .iter()
            .filter(|(name, _)| !NOT_TOLD.contains(&name.as_str()))
            .flat_map(|(_, value)| facts(value))
            .collect(),
        _ => Vec::new(),
    }
}

#[test]
fn text_and_html_tell_every_fact_of_the_view() {
    let it = Snapshots::plain();
    for ((kind, mail), view) in it.mails(&edition()).iter().zip(it.views()) {
        let text = folded(&mail.text).to_lowercase();
        let page = visible(&mail.html).to_lowercase();
        let facts = facts(&view);
        assert!(facts.len() > 40, "{kind:?}: {}", facts.len());
        for fact in facts {
            let fact = folded(fact).to_lowercase();
            assert!(text.contains(&fact), "the text of {kind:?} lacks: {fact}\n{text}");
            assert!(page.contains(&fact), "the page of {kind:?} lacks: {fact}\n{page}");
        }
    }
}

#[test]
fn links_stand_in_both_parts() {
    let edition = Edition { links: Some(links()), ..edition() };
    for (kind, mail) in Snapshots::plain().mails(&edition) {
        let links = links();
        for link in [&links.preferences, &links.stop, links.calendar.as_ref().expect("one")] {
            assert!(mail.text.lines().any(|line| line == link), "{kind:?}: {}", mail.text);
            assert!(mail.html.contains(&format!("href=\"{link}\"")), "{kind:?}: {}", mail.html);
        }
        // Only owners are given one, and have it in every mail.
        let reading = links.reading.expect("one");
        assert!(mail.text.contains(&reading) && mail.html.contains(&reading), "{kind:?}");
    }
}

#[test]
fn no_text_changes_the_shape_of_any_mail() {
    let plain = Snapshots::plain().mails(&edition());
    for hostile in HOSTILE {
        let hostile = if hostile.is_empty() { "n".repeat(4000) } else { hostile.to_owned() };
        let mails = Snapshots::hostile(&hostile).mails(&edition());
        for ((kind, mail), (_, plain)) in mails.iter().zip(&plain) {
            assert_eq!(shape(&mail.html), shape(&plain.html), "{kind:?}: {hostile}");
            assert!(!mail.subject.contains(['\r', '\n', '\u{202e}']), "{kind:?}: {hostile}");
            assert!(!mail.html.contains(['\u{202e}', '\u{2066}']), "{kind:?}");
            assert!(!mail.text.contains(['\u{202e}', '\u{2066}']), "{kind:?}");
            assert!(mail.text.lines().all(|line| line.chars().count() <= 72), "{hostile}");
        }
    }
}

#[test]
fn mails_stay_small_however_much_there_is_to_say() {
    for count in [1, 10, 200, 2_000] {
        for (kind, mail) in Snapshots::many(count).mails(&edition()) {
            let bytes = mail.html.len();
            assert!(bytes < HTML_BYTES_MAX, "{kind:?} of {count}: {bytes}");
            assert!(bytes > 5_000, "{kind:?} of {count}: {bytes}");
            for banned in ["<img", "<script", "<link", "http:", "https:", "url(", "@import"] {
                assert!(!mail.html.contains(banned), "{kind:?}: {banned}");
            }
        }
    }
}

#[test]
fn figures_are_written_as_the_reader_wants() {
    let style = Style {
        dates: Dates::DayMonthYear,
        decimal_mark: DecimalMark::Comma,
        hours: HoursForm::Decimal,
    };
    let edition = Edition { style, ..edition() };
    for (kind, mail) in Snapshots::plain().mails(&edition) {
        let text = folded(&mail.text);
        assert!(text.contains("Wed 25 Nov 2026 (2026-11-25"), "{kind:?}: {text}");
        assert!(!text.contains("292.0 h"), "{kind:?}: {text}");
        assert!(mail.subject.ends_with("(2026-W48)"), "{}", mail.subject);
    }
}

/// Markup, header injection, direction-changing characters; the empty one stands for 4000 characters.
const HOSTILE: [&str; 6] = [
    "<script>alert(1)</script>",
    "\"><img src=x onerror=alert(1)>",
    "A\r\nBcc: everyone@example.org",
    "{{ head.cautions }}{% raw %}",
    "abc\u{202e}fed\u{2066}",
    "",
];

#[test]
fn the_mails_can_be_written_as_mails() {
    let sender = Sender::new("Engine reports <reports@example.org>", "desk@example.org");
    let sender = sender.expect("addresses");
    let folder = std::env::var_os("GUDGEON_MAILS").map(PathBuf::from);
    let mut cases = vec![("plain".to_owned(), Snapshots::plain())];
    cases
        .extend([1, 10, 200, 2_000].map(|count| (format!("many-{count}"), Snapshots::many(count))));
    for (at, text) in HOSTILE.into_iter().enumerate() {
        let text = if text.is_empty() { "n".repeat(4000) } else { text.to_owned() };
        cases.push((format!("hostile-{at}"), Snapshots::hostile(&text)));
    }
    let edition = Edition { links: Some(links()), ..edition() };
    let quiet = Renderer::new().expect("templates").nothing_due(&told_club(), &edition);
    let quiet = (
        "quiet".to_owned(),
        Snapshots::plain(),
        vec![(ReportKind::Owner, quiet.expect("rendered"))],
    );
    let cases = cases.into_iter().map(|(case, snapshots)| {
        let mails = snapshots.mails(&edition).into();
        (case, snapshots, mails)
    });
    for (case, snapshots, mails) in cases.chain([quiet]) {
        for (kind, Rendered { subject, text, html }) in mails {
            let to_name = snapshots.owner.name.as_str();
            let kind = kind.word();
            let report = ReportRow {
                kind: kind.to_owned(),
                message_id: format!("<{kind}.2026-W48.{case}@example.org>"),
                subject,
                text,
                html,
                ..sample_report(to_name)
            };
            let mail = message(&report, &sender).expect("a mail");
            assert!(!mail.is_empty());
            if let Some(folder) = &folder {
                std::fs::write(folder.join(format!("{case}-{kind}.eml")), mail).expect("written");
            }
        }
    }
}
