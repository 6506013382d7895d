//! The three templates: same facts in text and HTML, same shape whatever is in the data, size kept.

use super::*;
use crate::fixtures::{AS_OF, belt, club, engine, on, plugs};
use crate::snapshot::EngineSnapshot;
use gudgeon_life::cautions::CAUTIONS;

fn edition() -> Edition {
    Edition {
        week: ReportWeek::parse("2026-W48").expect("a week"),
        as_of: on(AS_OF),
        style: Style::default(),
        links: None,
    }
}

fn render(snapshot: &OwnerSnapshot) -> Rendered {
    let renderer = Renderer::new().expect("templates");
    renderer.owner(snapshot, &edition()).expect("rendered").expect("something to say")
}

fn club_report() -> OwnerReport {
    let week = ReportWeek::parse("2026-W48").expect("a week");
    compose(&club(), week, on(AS_OF), 40).expect("something to say")
}

/// The text of an HTML document, whitespace folded, the few entities in use resolved.
pub(super) fn visible(html: &str) -> String {
    let body = html.split_once("<body").map_or(html, |(_, body)| body);
    let pieces: Vec<&str> = body
        .split('<')
        .map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text))
        .collect();
    folded(&pieces.join(" "))
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'")
        .replace("&#x27;", "'")
        .replace("&amp;", "&")
}

pub(super) fn folded(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The names of all tags in order.
pub(super) fn shape(html: &str) -> Vec<&str> {
    html.split('<')
        .skip(1)
        .map(|tag| tag.split([' ', '>', '\n']).next().unwrap_or_default())
        .collect()
}

#[test]
fn the_subject_says_the_worst_and_the_week() {
    assert_eq!(
        render(&club()).subject,
        "1 overdue, 1 unknown, 2 coming due: XX-001 and 1 more (2026-W48)"
    );
}

#[test]
fn text_and_html_carry_the_same_facts_in_the_same_order() {
    let Rendered { text, html, .. } = render(&club());
    let (text, html) = (folded(&text), visible(&html));
    let report = club_report();
    let mut facts = vec![report.head.verdict];
    facts.extend(report.head.lead);
    for engine in report.engines {
        facts.extend([engine.name, engine.title]);
        facts.extend(engine.facts.into_iter().map(|fact| fact.value));
        facts.extend(engine.remarks);
        for line in engine.lines {
            facts.push(line.title);
            facts.extend(line.place);
            facts.extend(line.late);
            facts.push(line.due);
            facts.extend(line.governing);
            facts.extend(line.legs.into_iter().map(|leg| leg.words));
            facts.extend(line.details.into_iter().map(|detail| detail.value));
        }
        facts.extend(engine.rest);
        facts.extend(engine.entered);
        facts.extend(engine.kept);
    }
    facts.extend(CAUTIONS.map(str::to_owned));
    facts.push("Keep this mail: the figures behind".to_owned());
    for (name, part) in [("text", &text), ("html", &html)] {
        let mut at = 0;
        for fact in &facts {
            let found = part[at..].find(fact.as_str());
            at += found
                .unwrap_or_else(|| panic!("{name} lacks, or has out of order: {fact}\n{part}"));
        }
    }
}

// The hashes of the fixture are bytes of one value each: 64 bits of them are shown.
#[test]
fn a_mail_is_a_witness_of_the_records() {
    let Rendered { text, html, .. } = render(&club());
    let words = "Records kept: engine 7 (a1a1-a1a1-a1a1-a1a1), aircraft 2 (b2b2-b2b2-b2b2-b2b2), anchor 4 (c3c3-c3c3-c3c3-c3c3).";
    for part in [folded(&text), visible(&html)] {
        assert_eq!(part.matches(words).count(), 2, "one for each engine: {part}");
    }
    let mut before = club();
    for engine in &mut before.engines {
        engine.witness = None;
    }
    let Rendered { text, html, .. } = render(&before);
    for part in [text, html] {
        assert!(!part.contains("Records kept"), "{part}");
    }
}

#[test]
fn the_text_part_is_72_columns_wide() {
    for line in render(&club()).text.lines() {
        assert!(line.chars().count() <= 72, "{line}");
        assert_eq!(line, line.trim_end());
    }
}

// Hostile names: markup, header injection, a right-to-left override (U+202E), 4000 characters.
#[test]
fn no_name_changes_the_shape_of_a_mail() {
    let plain = render(&club());
    for hostile in [
        "<script>alert(1)</script>",
        "\"><img src=x onerror=alert(1)>",
        "A\r\nBcc: everyone@example.org",
        "{{ cautions }}{% raw %}",
        "abc\u{202e}fed\u{2066}",
        &"n".repeat(4000),
    ] {
        let mut snapshot = club();
        snapshot.name = hostile.to_owned();
        for engine in &mut snapshot.engines {
            engine.row.mark = Some(hostile.to_owned());
            engine.row.serial = Some(hostile.to_owned());
            for line in &mut engine.lines {
                line.title = hostile.to_owned();
                line.source = hostile.to_owned();
            }
            for conflict in &mut engine.row.conflicts {
                *conflict = hostile.to_owned();
            }
        }
        let mail = render(&snapshot);
        assert_eq!(shape(&mail.html), shape(&plain.html), "{hostile}");
        assert!(!mail.subject.contains(['\r', '\n', '\u{202e}']), "{hostile}");
        assert!(mail.subject.ends_with("(2026-W48)"), "{}", mail.subject);
        assert!(!mail.html.contains(['\u{202e}', '\u{2066}']));
        assert!(mail.text.lines().all(|line| line.chars().count() <= 72), "{hostile}");
    }
}

#[test]
fn a_mail_stays_small_and_needs_nothing_from_elsewhere() {
    let many = |engines: usize, lines: usize, title: &str| OwnerSnapshot {
        name: "Invented Flying School".to_owned(),
        engines: (0..engines)
            .map(|at| -> EngineSnapshot {
                let lines = (0..lines).map(|line| {
                    let mut it = if line % 7 == 0 { belt() } else { plugs() };
                    it.title = format!("{title} {line}");
                    it
                });
                engine(&format!("XX-{at:03}"), lines.collect())
            })
            .collect(),
    };
    let long = "<&\"'>".repeat(100);
    for (engines, lines) in [(1, 1), (1, 10), (1, 200), (200, 1), (50, 40)] {
        for title in ["Item", &long] {
            let mail = render(&many(engines, lines, title));
            assert!(mail.html.len() < HTML_BYTES_MAX, "{engines} x {lines}: {}", mail.html.len());
            for banned in ["<img", "<script", "<link", "http:", "https:", "url(", "@import"] {
                assert!(!mail.html.contains(banned), "{banned}");
            }
        }
    }
}

#[test]
fn fills_lines_and_breaks_words_that_are_too_long() {
    let filled = wrap(&"word ".repeat(20), 2);
    assert_eq!(filled.lines().map(str::len).collect::<Vec<_>>(), [69, 31]);
    assert_eq!(wrap(&"x".repeat(100), 0).lines().map(str::len).collect::<Vec<_>>(), [72, 28]);
}
