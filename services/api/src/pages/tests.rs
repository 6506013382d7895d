//! The templates with hand-made views: shape kept whatever the names are, nothing from elsewhere.

use super::*;

/// Names as a page may meet them: plain, then hostile.
const HOSTILE: [&str; 4] =
    ["<script>alert(1)</script>", "\"><img src=x onerror=alert(1)>", "{{ page }}", "a\u{202e}b"];

fn shape(html: &str) -> Vec<&str> {
    html.split('<')
        .skip(1)
        .map(|tag| tag.split([' ', '>', '\n']).next().unwrap_or_default())
        .collect()
}

fn checked(template: &str, view: impl Fn(&str) -> String) {
    let plain = view("plain");
    for hostile in HOSTILE {
        assert_eq!(shape(&view(hostile)), shape(&plain), "{template}: {hostile}");
    }
    for banned in ["<script", "style=", "<style", "http:", "https:", "onclick"] {
        assert!(!plain.contains(banned), "{template}: {banned}");
    }
    for needed in ["<html lang=\"en\">", "<main id=\"main\">", "href=\"#main\"", "<h1>"] {
        assert!(plain.contains(needed), "{template}: {needed}");
    }
}

pub(super) fn frame(name: &str) -> Frame {
    Frame { title: name.to_owned(), reader: Some(name.to_owned()), demo: true }
}

#[test]
fn the_fleet_page_keeps_its_shape() {
    checked("fleet", |name| {
        let view = fleet::tests::sample(name);
        rendered("fleet.html", frame(name), &view).expect("rendered")
    });
}

#[test]
fn the_page_of_parts_keeps_its_shape() {
    checked("parts", |name| {
        let view = parts::tests::sample(name);
        rendered("parts.html", frame(name), &view).expect("rendered")
    });
}

#[test]
fn the_engine_page_keeps_its_shape() {
    checked("engine", |name| {
        let view = engine::tests::sample(name);
        rendered("engine.html", frame(name), &view).expect("rendered")
    });
}

#[test]
fn the_page_of_the_life_of_parts_keeps_its_shape() {
    checked("life", |name| {
        let view = evidence::tests::life(name);
        rendered("life.html", frame(name), &view).expect("rendered")
    });
}

#[test]
fn the_page_of_workshops_keeps_its_shape() {
    checked("shops", |name| {
        let view = evidence::tests::shops(name);
        rendered("shops.html", frame(name), &view).expect("rendered")
    });
}

#[test]
fn the_page_of_visits_keeps_its_shape() {
    checked("visits", |name| {
        let view = visits::tests::sample(name);
        rendered("visits.html", frame(name), &view).expect("rendered")
    });
}

#[test]
fn the_report_of_an_inspection_keeps_its_shape() {
    checked("inspection", |name| {
        let view = inspection::tests::sample(name);
        rendered("inspection.html", frame(name), &view).expect("rendered")
    });
}

#[test]
fn the_sheet_keeps_its_shape() {
    checked("sheet", |name| {
        let view = sheet::tests::sample(name);
        rendered("sheet.html", frame(name), &view).expect("rendered")
    });
}

#[test]
fn the_pages_behind_links_keep_their_shape() {
    for (at, (name, _)) in linked::tests::samples("plain").into_iter().enumerate() {
        checked(name, |text| linked::tests::samples(text).swap_remove(at).1);
    }
    for template in ["no-link.html", "revoked.html"] {
        checked(template, |name| rendered(template, frame(name), &()).expect("rendered"));
    }
}

#[test]
fn the_sign_in_page_says_what_is_wrong_with_a_key() {
    let page = sign_in::page(true, true).expect("rendered");
    assert!(page.contains("This key is not known, has expired or was revoked."));
    assert!(!sign_in::page(true, false).expect("rendered").contains("not known"));
}

#[test]
fn a_day_stays_on_one_line_and_the_text_around_it_is_escaped() {
    let mut tera = Tera::new();
    tera.register_filter("days_whole", days_whole);
    tera.add_raw_template("a.html", "{{ text | days_whole }}").expect("a template");
    let mut context = Context::new();
    context.insert("text", "was due Thu 2024-10-31; <b> & 2024-13-01");
    let expected = "was due Thu <span class=\"word\">2024-10-31;</span> &lt;b&gt; &amp; 2024-13-01";
    assert_eq!(tera.render("a.html", &context).expect("rendered"), expected);
}
