//! The sentences that explain a visit to whoever books it.

use super::{Coming, Overrun, Planned, Visit, Why};

/// Why a visit is on its day, and why each line is in it.
#[must_use]
pub fn explain(visit: &Visit, lines: &[Coming]) -> String {
    let titles = |why: Why| -> Vec<&str> {
        let of = visit.work.iter().filter(|it| it.why == why).filter_map(|it| lines.get(it.line));
        of.map(|coming| coming.title.as_str()).collect()
    };
    let mut sentences = Vec::new();
    let past = titles(Why::Past);
    if !past.is_empty() {
        sentences.push(format!(
            "Go at once: {} {} past the day to plan by.",
            listed(&past),
            if past.len() == 1 { "is" } else { "are" }
        ));
    }
    let due = titles(Why::Due);
    if !due.is_empty() {
        sentences.push(format!("By {}: {}.", visit.on, listed(&due)));
    }
    sentences.extend(visit.work.iter().filter_map(|planned| early(planned, lines)));
    sentences.join(" ")
}

/// The sentence of a line that is done before its day.
fn early(planned: &Planned, lines: &[Coming]) -> Option<String> {
    let coming = lines.get(planned.line)?;
    let reason = match (planned.why, &coming.strip_down) {
        (Why::Past | Why::Due, _) => return None,
        (Why::SharesStripDown, Some(strip_down)) => {
            format!("what it needs ({strip_down}) is done in this visit anyway")
        }
        (Why::SharesStripDown | Why::SavesVisit, _) => "this saves a visit of its own".to_owned(),
    };
    Some(format!(
        "{} comes along {} early ({} of its interval): {reason}.",
        capital(&coming.title),
        days(planned.days_early),
        percent(planned.wasted)
    ))
}

/// What happens to a line when its visit is put off.
#[must_use]
pub fn explain_overrun(overrun: Overrun, lines: &[Coming]) -> String {
    let title = lines.get(overrun.line).map_or("work", |coming| coming.title.as_str());
    let title = capital(title);
    if overrun.certain {
        format!("{title} would be {} overdue.", days(overrun.days))
    } else {
        format!(
            "{title} would be {} past the day to plan by: it may be overdue.",
            days(overrun.days)
        )
    }
}

fn days(count: u32) -> String {
    if count == 1 { "1 day".to_owned() } else { format!("{count} days") }
}

/// Thousandths as percent, rounded up.
fn percent(thousandths: u64) -> String {
    format!("{} %", thousandths.div_ceil(10))
}

fn capital(title: &str) -> String {
    let mut letters = title.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// "a", "a and b", "a, b and c".
fn listed(titles: &[&str]) -> String {
    match titles {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
