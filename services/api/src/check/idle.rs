//! What is accepted and changes nothing that is due: whoever posted it may count on it, so it is said.

use super::programme;
use crate::answers::Warning;
use crate::app::App;
use crate::problem::Problem;
use gudgeon_catalogue::usual_words;
use gudgeon_life::fact::{Affected, Attribute, Content, Described, Entry, Event, EventKind, Host};
use gudgeon_life::programme::{EngineType, Granted, Item};
use std::collections::{BTreeMap, BTreeSet};

/// What is accepted and changes nothing by the engine's programme: somebody may count on it.
pub(crate) fn idle(app: &App, entry: &Entry) -> Result<Vec<Warning>, Problem> {
    let warning = |code, detail| vec![Warning { code, detail, pointer: None }];
    Ok(match &entry.content {
        Content::Concession(it) => {
            let programme = programme(app, it.engine)?;
            let item = programme.as_ref().and_then(|programme| programme.item(&it.item));
            let asked = |item: &&Item| {
                item.tolerance.is_some()
                    && item.granted == Granted::BeforeDue
                    && item.class.permits_tolerance()
            };
            item.filter(|item| !asked(item)).map_or(Vec::new(), |item| {
                let detail = format!(
                    "`{}` has no tolerance that a permission could grant; this changes nothing that is due",
                    item.id
                );
                warning("permission-without-effect", detail)
            })
        }
        Content::HoursAccepted(it) => {
            let logged = app.store.engine(it.engine)?.is_some_and(|row| row.logged);
            let detail =
                "the hours of this engine are logged, so an estimate changes nothing that is due";
            if logged { warning("estimate-without-effect", detail.to_owned()) } else { Vec::new() }
        }
        // Coming back into use ends the storage, whatever the programme says.
        Content::Event(Event { kind: EventKind::ReturnToUse, .. }) => Vec::new(),
        Content::Event(Event { of: Affected::Engine(id), kind, .. }) => {
            let programme = programme(app, *id)?;
            let looked_after = |it: &EngineType| it.items.iter().any(|it| it.after.contains(kind));
            programme.filter(|it| !looked_after(it)).map_or(Vec::new(), |it| {
                let detail = format!(
                    "the programme of `{}` asks for nothing after this: {}",
                    it.name,
                    kind.printed()
                );
                warning("nothing-asked", detail)
            })
        }
        Content::Described(Described { of: Host::Engine(id), values }) => {
            let programme = programme(app, *id)?;
            programme.map_or(Vec::new(), |it| unasked(&it, values))
        }
        _ => Vec::new(),
    })
}

/// Words that are neither usual nor asked for by any item.
fn unasked(
    engine_type: &EngineType,
    values: &BTreeMap<Attribute, BTreeSet<String>>,
) -> Vec<Warning> {
    let words = values.iter().flat_map(|(it, words)| words.iter().map(move |word| (*it, word)));
    let asked = |attribute: Attribute, word: &String| {
        let by = |item: &Item| {
            item.applies.described.get(&attribute).is_some_and(|it| it.contains(word))
        };
        usual_words(attribute).contains(&word.as_str()) || engine_type.items.iter().any(by)
    };
    let unasked = words.filter(|(attribute, word)| !asked(*attribute, word));
    let warning = |(attribute, word): (Attribute, &String)| Warning {
        code: "word-without-effect",
        detail: format!(
            "no item of `{}` is for {} `{word}`; check the spelling",
            engine_type.name,
            attribute.word()
        ),
        pointer: Some(format!("/{}", attribute.word())),
    };
    unasked.map(warning).collect()
}
