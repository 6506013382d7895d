//! The pages behind links with hand-made views, for the tests of all templates.

use super::super::rendered;
use super::super::tests::frame;
use super::{mails, reading, reported, stop};

/// Every page behind a link whose view holds foreign text, by name.
pub(in crate::pages) fn samples(text: &str) -> Vec<(&'static str, String)> {
    let page = |result: Result<String, _>| result.expect("rendered");
    vec![
        ("mails", page(rendered("mails.html", frame(text), &mails::sample(text)))),
        ("reading", page(rendered("reading.html", frame(text), &reading::sample(text)))),
        ("reported", page(rendered("reported.html", frame(text), &reported::sample(text)))),
    ]
}

#[test]
fn the_page_that_ends_mails_offers_what_each_state_allows() {
    for (view, offered) in stop::samples().iter().zip([
        &["overdue-only", "stop"][..],
        &["resume", "stop"],
        &["resume", "overdue-only"],
        &["stop"],
    ]) {
        let page = rendered("stop.html", frame("Weekly mails"), view).expect("rendered");
        let buttons: Vec<&str> = page
            .split("name=\"do\" value=\"")
            .skip(1)
            .filter_map(|rest| rest.split('"').next())
            .collect();
        assert_eq!(buttons, offered, "{page}");
    }
}
